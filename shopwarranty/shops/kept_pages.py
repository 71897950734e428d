"""Which pages a phone may keep for the time without a network: those that name no customer."""

from collections.abc import Callable
from functools import wraps
from typing import Any

from django.http import HttpResponse

View = Callable[..., HttpResponse]


def asked_to_keep(request: Any) -> bool:
    """The phone asks for the page only to keep it: names and plate are left out."""
    return bool(request.headers.get("X-Keep"))


def kept_on_phone(*, has_names: bool = False) -> Callable[[View], View]:
    """Marks a view. With `has_names` only the copy that was asked for without them may be kept."""

    def mark(view: View) -> View:
        @wraps(view)
        def answer(request: Any, *args: Any, **kwargs: Any) -> HttpResponse:
            response = view(request, *args, **kwargs)
            nameless = asked_to_keep(request) or not has_names
            may = response.headers.get("Cache-Control") != "no-store"
            if request.method == "GET" and response.status_code == 200 and nameless and may:
                response["X-Kept"] = "1"
            return response

        return answer

    return mark
