from django.urls import path

from . import hooks, operator_views, views

urlpatterns = [
    path("messages/", views.messages, name="messages"),
    path("messages/addresses/", views.addresses, name="marked-addresses"),
    path("messages/addresses/<int:pk>/clear/", views.clear, name="address-clear"),
    path("messages/<int:pk>/", views.message, name="message"),
    path("messages/<int:pk>/again/", views.again, name="message-again"),
    path("messages/<int:pk>/aside/", views.aside, name="message-aside"),
]
public_urlpatterns = [
    path("health/", views.health, name="health"),
    path("hooks/bounced/", hooks.bounced, name="bounced"),
    path("mail-files/", operator_views.mail_files, name="mail-files"),
    path("mail-files/<str:name>/<int:number>/", operator_views.mail_file, name="mail-file"),
]
