from django.urls import path

from shopwarranty.web import views

urlpatterns = [path("colours/", views.theme, name="theme")]
