"""The program's addresses and one more: a page of a shop that says nothing. What other pages stand beside."""

from typing import Any

from django.http import HttpResponse
from django.urls import path

from shopwarranty import urls
from shopwarranty.shops.access import ANYONE, allow
from shopwarranty.urls import handler400, handler403, handler404, handler500  # noqa: F401 - Django asks for them


@allow(ANYONE)
def empty(request: Any) -> HttpResponse:
    return HttpResponse("")


urlpatterns = [path("s/<slug:shop>/empty/", empty, name="empty"), *urls.urlpatterns]
