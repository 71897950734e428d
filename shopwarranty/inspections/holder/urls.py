"""Addresses of the holder's page (open to whoever has the token) and of what the desk does with reports."""

from django.urls import path

from . import code_views, desk_views, report_views, views

urlpatterns = [
    path("reports/", desk_views.reports, name="reports"),
    path("reports/<int:pk>/", desk_views.report, name="report"),
    path("reports/<int:pk>/accept/", desk_views.report_accept, name="report-accept"),
    path("reports/<int:pk>/aside/", desk_views.report_aside, name="report-aside"),
    path("reports/<int:pk>/again/", desk_views.report_again, name="report-again"),
    path("vehicles/<int:pk>/links/", desk_views.holder_links, name="holder-links"),
    path("vehicles/<int:pk>/links/revoke/", desk_views.revoke, name="holder-links-revoke"),
]
public_urlpatterns = [
    path("your-film/<str:token>/", views.holder, name="holder"),
    path("your-film/<str:token>/check/<int:pk>/", views.holder_time, name="holder-time"),
    path("your-film/<str:token>/check/<int:pk>/cancel/", views.holder_cancel, name="holder-cancel"),
    path("your-film/<str:token>/check/<int:pk>/sooner/", views.holder_sooner, name="holder-sooner"),
    path(
        "your-film/<str:token>/check/<int:pk>/appointment.ics",
        views.holder_calendar,
        name="holder-calendar",
    ),
    path(
        "your-film/<str:token>/certificate/<int:pk>.pdf", views.holder_certificate, name="holder-certificate"
    ),
    path("your-film/<str:token>/reminders/", views.holder_reminders, name="holder-reminders"),
    path("your-film/<str:token>/report/", report_views.holder_report, name="holder-report"),
    path("your-film/<str:token>/report/other/", report_views.holder_report_other, name="holder-report-other"),
    path(
        "your-film/<str:token>/report/at/<str:panel>/",
        report_views.holder_report_panel,
        name="holder-report-panel",
    ),
    path("certificate/<str:number>/<str:code>/holder/", code_views.ask_code, name="holder-code"),
    path("certificate/<str:number>/<str:code>/holder/code/", code_views.enter_code, name="holder-enter"),
]
