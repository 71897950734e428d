from django.urls import path

from . import hand_over_views as views

urlpatterns = [
    path("jobs/<int:pk>/hand-over/", views.hand_over, name="hand-over"),
    path("jobs/<int:pk>/hand-over/preview.pdf", views.preview, name="hand-over-preview"),
    path("jobs/<int:pk>/hand-over/look/", views.begin_look, name="hand-over-look"),
    path("jobs/<int:pk>/hand-over/look/<int:panel>/", views.look_clean, name="hand-over-look-clean"),
    path("jobs/<int:pk>/certificate/", views.issue_apart, name="issue-apart"),
    path("jobs/<int:pk>/handed-over/", views.handed_over, name="handed-over"),
]
