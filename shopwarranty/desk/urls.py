from importlib.util import find_spec

from django.urls import path

from . import trace_views, views

urlpatterns = [
    path("", views.today, name="today"),
    path("search/", views.search, name="search"),
    path("lots/<int:pk>/", trace_views.lot, name="lot"),
    path("lots/<int:pk>/quarantine/", trace_views.quarantine, name="lot-quarantine"),
]
if find_spec("shopwarranty.desk.hand_over_urls"):
    from .hand_over_urls import urlpatterns as hand_over_pages

    urlpatterns += hand_over_pages
