"""The program's own settings with one page more: signed in, it says nothing. Others stand beside it."""

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.urls import path

from shopwarranty.settings import *  # noqa: F403
from shopwarranty.settings import STORAGES as OURS

ROOT_URLCONF = "tests.bench.load_site"
# The pages only are asked for: nothing has to be collected.
STORAGES = {
    **OURS,
    "staticfiles": {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"},
}


def empty(request: HttpRequest) -> HttpResponse:
    return HttpResponse("")


def __getattr__(name: str) -> Any:
    """Addresses are asked for once the settings are read."""
    from shopwarranty import urls
    from shopwarranty.shops.access import ANYONE, allow

    if name == "urlpatterns":
        return [path("s/<slug:shop>/empty/", allow(ANYONE)(empty), name="empty"), *urls.urlpatterns]
    if name.startswith("handler"):
        return getattr(urls, name)
    raise AttributeError(name)
