from django.urls import path

from . import views

urlpatterns = [
    path("review/promises/", views.promise_costs, name="promise-costs"),
    path("review/promises/behind/", views.behind, name="promise-costs-behind"),
    path("review/promises/claims-since/", views.claims_since, name="claims-since"),
    path("review/promises/by-age.csv", views.ages_file, name="promise-ages"),
    path("review/promises/costs.csv", views.costs_file, name="promise-sums"),
    path("review/promises/costs.xlsx", views.workbook_file, name="promise-workbook"),
]
