from django.urls import path

from . import views

urlpatterns = [
    path("films/", views.films, name="films"),
    path("films/new/", views.new_product, name="new-film"),
    path("films/<int:pk>/", views.product, name="film"),
    path("rolls/new/", views.new_roll, name="new-roll"),
    path("rolls/<int:pk>/", views.roll, name="roll"),
    path("rolls/<int:pk>/measure/", views.measure, name="measure-roll"),
    path("rolls/<int:pk>/finish/", views.finish, name="finish-roll"),
    path("rolls/<int:pk>/label/", views.label, name="roll-label"),
    path("rolls/<int:pk>/cut/", views.cut_planner, name="cut-planner"),
]
