from django.urls import path

from . import hand_over_urls, trace_views, views

urlpatterns = [
    path("", views.today, name="today"),
    path("search/", views.search, name="search"),
    path("lots/<int:pk>/", trace_views.lot, name="lot"),
    path("lots/<int:pk>/quarantine/", trace_views.quarantine, name="lot-quarantine"),
    *hand_over_urls.urlpatterns,
]
