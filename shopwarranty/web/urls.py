from django.urls import path

from shopwarranty.web import phone_views, views

urlpatterns = [
    path("colours/", views.theme, name="theme"),
    path("app.webmanifest", phone_views.manifest, name="manifest"),
    path("worker.js", phone_views.worker, name="worker"),
    path("offline/", phone_views.offline, name="offline"),
]
