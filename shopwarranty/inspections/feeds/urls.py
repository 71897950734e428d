from django.urls import path

from . import views

urlpatterns = [
    path("calendars/", views.calendar_feeds, name="calendar-feeds"),
    path("calendars/<int:pk>/revoke/", views.calendar_feed_revoke, name="calendar-feed-revoke"),
]
public_urlpatterns = [
    path("calendar/<str:token>.ics", views.calendar_feed, name="calendar-feed"),
]
