from django.urls import path

from . import hooks, views

urlpatterns = [
    path("messages/", views.messages, name="messages"),
    path("messages/<int:pk>/", views.message, name="message"),
    path("messages/<int:pk>/again/", views.again, name="message-again"),
    path("messages/<int:pk>/aside/", views.aside, name="message-aside"),
]
public_urlpatterns = [
    path("health/", views.health, name="health"),
    path("hooks/bounced/", hooks.bounced, name="bounced"),
]
