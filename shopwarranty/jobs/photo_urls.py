from django.urls import path, re_path

from . import photo_views

urlpatterns = [
    path("jobs/<int:pk>/photos/", photo_views.job_photos, name="job-photos"),
    re_path(r"^photos/(?P<pk>\d+)/(?P<size>full|small)/$", photo_views.photo_file, name="photo"),
    path("photos/<int:pk>/move/", photo_views.photo_move, name="photo-move"),
    path("photos/<int:pk>/aside/", photo_views.photo_aside, name="photo-aside"),
]
