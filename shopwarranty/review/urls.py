from django.urls import path

from . import views

urlpatterns = [
    path("review/", views.review, name="review"),
    path("review/places/", views.places, name="review-places"),
    path("review/figures.csv", views.figures_file, name="review-figures"),
    path("review/effects.csv", views.effects_file, name="review-effects"),
    path("review/review.json", views.json_file, name="review-json"),
]
