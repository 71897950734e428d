"""What an operator of the installation sees: mails kept as files. To everybody else there is no such page."""

from collections.abc import Callable
from functools import wraps
from itertools import islice
from typing import Any

from django.core.paginator import Paginator
from django.http import Http404, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from .mail_files import kept_as_files, mails_in, newest

View = Callable[..., HttpResponse]
MOST = 1000


def for_operators(view: View) -> View:
    @wraps(view)
    def inner(request: Any, *args: Any, **kwargs: Any) -> HttpResponse:
        if not (request.user.is_authenticated and request.user.is_staff and kept_as_files()):
            raise Http404
        response = view(request, *args, **kwargs)
        response["Cache-Control"] = "private, no-store"
        return response

    return inner


@require_GET
@for_operators
def mail_files(request: Any) -> HttpResponse:
    page = Paginator(list(islice(newest(), MOST)), 50).get_page(request.GET.get("page"))
    return render(request, "outbox/mail_files.html", {"page": page})


@require_GET
@for_operators
def mail_file(request: Any, name: str, number: int) -> HttpResponse:
    mails = mails_in(name)
    if number >= len(mails):
        raise Http404
    return render(request, "outbox/mail_file.html", {"mail": mails[number]})
