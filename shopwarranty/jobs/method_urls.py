from django.urls import path

from . import method_views

urlpatterns = [
    path("methods/", method_views.methods, name="methods"),
    path("methods/new/", method_views.new_method, name="new-method"),
    path("methods/<int:pk>/new-version/", method_views.new_version, name="new-method-version"),
    path("methods/<int:pk>/retire/", method_views.method_retire, name="method-retire"),
    path("methods/versions/<int:pk>/", method_views.method_version, name="method-version"),
    path("methods/fields/new/", method_views.new_field, name="new-field"),
    path("methods/fields/<int:pk>/retire/", method_views.field_retire, name="field-retire"),
]
