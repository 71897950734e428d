"""What the database threw out to let somebody else go on is done once more.

PostgreSQL ends one of two transactions that wait for each other, and engines that order transactions strictly
end one that fits into no order. Nothing of it was written, so the page is asked again from its beginning,
with rows read anew. Where something was written for good before, it is not: that would be done twice.
"""

import random
import time
from collections.abc import Callable
from functools import wraps
from typing import Any, Final, ParamSpec, TypeVar

from django.db import OperationalError, connection
from django.http import HttpRequest, HttpResponse

Given = ParamSpec("Given")
Result = TypeVar("Result")
Handler = Callable[[HttpRequest], HttpResponse]
TRIES: Final = 4
THROWN_OUT: Final = ("40001", "40P01")
"""serialization_failure and deadlock_detected: PostgreSQL 15 documentation, appendix A, class 40."""
LONGEST_PAUSE: Final = 0.1  # seconds, times the number of tries so far


def was_thrown_out(error: BaseException) -> bool:
    return getattr(error.__cause__, "sqlstate", None) in THROWN_OUT


def kept_so_far() -> int:
    """Goes up with whatever this connection wrote for good; SQLite throws nobody out."""
    return int(getattr(connection, "kept", 0))


def again(
    act: Callable[[], Result],
    before_more: Callable[[], None] = lambda: None,
    *,
    whatever_was_kept: bool = False,
) -> Result:
    """Does `act`, which owns its transactions, and again each time it was thrown out with nothing kept."""
    for tried in range(1, TRIES):
        kept = kept_so_far()
        try:
            return act()
        except OperationalError as error:
            is_half_done = kept_so_far() != kept and not whatever_was_kept
            if not was_thrown_out(error) or connection.in_atomic_block or is_half_done:
                raise
        time.sleep(random.uniform(0, LONGEST_PAUSE * tried))  # noqa: S311 - so that both do not meet again
        before_more()
    return act()


def twice_is_once(act: Callable[Given, Result]) -> Callable[Given, Result]:
    """Marks an action that reads its rows anew and does nothing to what is done already."""

    @wraps(act)
    def until_done(*args: Given.args, **kwargs: Given.kwargs) -> Result:
        return again(lambda: act(*args, **kwargs), whatever_was_kept=True)

    return until_done


class AgainMiddleware:
    """The last one: by now it is known who asks, and nothing of the page was done yet."""

    def __init__(self, get_response: Handler) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        return self.get_response(request)

    def process_view(self, request: Any, view: Any, args: Any, kwargs: dict[str, Any]) -> HttpResponse:
        said = len(queued_messages(request))

        def as_before() -> None:
            del queued_messages(request)[said:]
            rewind(request)

        response: HttpResponse = again(lambda: view(request, *args, **kwargs), as_before)
        return response


def queued_messages(request: Any) -> list[Any]:
    found: list[Any] = getattr(getattr(request, "_messages", None), "_queued_messages", [])
    return found


def rewind(request: Any) -> None:
    """Files from their beginning; member and shop as the database has them."""
    for file in (file for _name, files in request.FILES.lists() for file in files):
        file.seek(0)
    if getattr(request, "member", None) is not None:
        request.member.refresh_from_db()
        request.member.shop = request.shop
        request.shop.refresh_from_db()
