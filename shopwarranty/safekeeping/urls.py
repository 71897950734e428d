from django.urls import path

from . import views

urlpatterns = [
    path("parties/<int:pk>/data/", views.personal_data, name="personal-data"),
    path("parties/<int:pk>/data/copy/", views.export_person, name="personal-data-copy"),
    path("parties/<int:pk>/data/erase/", views.erase_person, name="personal-data-erase"),
    path("settings/keeping/", views.retention, name="retention"),
]
