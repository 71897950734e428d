from importlib.util import find_spec

from django.urls import path

from . import views

urlpatterns = [
    path("", views.today, name="today"),
    path("search/", views.search, name="search"),
]
if find_spec("shopwarranty.desk.hand_over_urls"):
    from .hand_over_urls import urlpatterns as hand_over_pages

    urlpatterns += hand_over_pages
