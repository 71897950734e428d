"""Addresses. A room's pages live under /s/<shop>/...; what strangers may open stands outside.

Every room has `urlpatterns` (pages of a shop, each view marked with `@allow`) and may have public ones.
"""

from importlib import import_module
from importlib.util import find_spec

from django.conf import settings
from django.contrib import admin
from django.urls import URLPattern, URLResolver, include, path

ROOMS = (
    "shops",
    "films",
    "jobs",
    "warranty",
    "inspections",
    "inspections.holder",
    "inspections.feeds",
    "defects",
    "claims",
    "trials",
    "review",
    "desk",
    "outbox",
    "safekeeping",
)


def of_shop(room: str) -> URLResolver:
    module = import_module(f"shopwarranty.{room}.urls")
    return path("s/<slug:shop>/", include(module.urlpatterns))


def for_strangers(room: str) -> list[URLPattern | URLResolver]:
    return list(getattr(import_module(f"shopwarranty.{room}.urls"), "public_urlpatterns", []))


ROOMS_WITH_PAGES = [room for room in ROOMS if find_spec(f"shopwarranty.{room}.urls")]

urlpatterns: list[URLPattern | URLResolver] = [
    path(f"{settings.ADMIN_PATH}/", admin.site.urls),
    path("", include("shopwarranty.web.urls")),
    *(page for room in ROOMS_WITH_PAGES for page in for_strangers(room)),
    *(of_shop(room) for room in ROOMS_WITH_PAGES),
]

handler400 = "shopwarranty.web.views.bad_request"
handler403 = "shopwarranty.web.views.refused"
handler404 = "shopwarranty.web.views.not_found"
handler500 = "shopwarranty.web.views.server_error"
