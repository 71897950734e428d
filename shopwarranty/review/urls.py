from django.urls import path

from . import change_views, cost_views, file_views, flat_views, views
from .promises.urls import urlpatterns as promises

urlpatterns = [
    *promises,
    path("review/", views.review, name="review"),
    path("review/now/", views.review_now, name="review-now"),
    path("review/places/", views.places, name="review-places"),
    path("review/change/", change_views.review_change, name="review-change"),
    path("review/costs/", cost_views.check_costs, name="check-costs"),
    path("review/file/", flat_views.flat_file, name="review-file"),
    path("review/figures.csv", file_views.figures_file, name="review-figures"),
    path("review/effects.csv", file_views.effects_file, name="review-effects"),
    path("review/review.json", file_views.json_file, name="review-json"),
    path("review/review.xlsx", file_views.workbook_file, name="review-workbook"),
    path("review/review.pdf", file_views.pdf_file, name="review-pdf"),
]
