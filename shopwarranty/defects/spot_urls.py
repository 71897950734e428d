from django.urls import path

from .views import spots, visits

urlpatterns = [
    path("visits/<int:pk>/spots/", spots.spots, name="visit-spots"),
    path("visits/<int:pk>/signature/", visits.signature, name="visit-signature"),
]
