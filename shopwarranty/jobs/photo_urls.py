from django.urls import path

from . import one_photo_views, photo_views

urlpatterns = [
    path("jobs/<int:pk>/photos/", photo_views.job_photos, name="job-photos"),
    path("photos/<int:pk>/", one_photo_views.one_photo, name="one-photo"),
    path("photos/<int:pk>/move/", photo_views.photo_move, name="photo-move"),
    path("photos/<int:pk>/aside/", photo_views.photo_aside, name="photo-aside"),
    path("photos/<int:pk>/mark/", one_photo_views.mark_photo, name="mark-photo"),
    path("photos/<int:pk>/beside/", one_photo_views.beside, name="photo-beside"),
    path("photos/<int:pk>/<slug:size>/", photo_views.photo_file, name="photo"),
]
