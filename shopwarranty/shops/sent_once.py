"""Entries that a phone keeps until the server has them: stored once, however often they are sent.

The phone makes an id for each entry. The receipt for it is written in the transaction that stores the entry,
so that an answer that got lost does no harm: the same id is answered again and nothing is done twice.
"""

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from functools import wraps
from typing import Any, Final
from uuid import UUID

from django.contrib import messages
from django.db import IntegrityError, transaction
from django.http import HttpResponse, JsonResponse
from django.shortcuts import redirect
from django.utils.translation import gettext as _

from .models.people import PhoneReceipt

LATE: Final = timedelta(minutes=1)
LONGEST: Final = timedelta(days=366)
View = Callable[..., HttpResponse]


@dataclass(slots=True)
class Entry:
    """What a phone says about the entry it sends; `age` is the time since it was pressed there."""

    uid: UUID
    member: int | None
    age: timedelta
    refused: list[str] = field(default_factory=list)
    fresh: dict[str, str] = field(default_factory=dict)


def entry_of(request: Any) -> Entry | None:
    """The entry that the view answers, if a phone sent it as one."""
    found: Entry | None = getattr(request, "entry", None)
    return found


def uid_of(request: Any) -> UUID | None:
    entry = entry_of(request)
    return entry.uid if entry else None


def pressed_at(request: Any) -> datetime | None:
    """When it was pressed, for an entry that waited on the phone; None for what comes at once."""
    entry = entry_of(request)
    if entry is None or entry.age < LATE:
        return None
    moment: datetime = request.now - entry.age
    return moment


def refuse(request: Any, *words: Any, form: Any = None, fresh: dict[str, str] | None = None) -> None:
    """The view could not store the entry, for these reasons; nothing it wrote stays.

    `fresh` are fields that say what their reader saw, as they read now: with them it can be sent again.
    """
    entry = entry_of(request)
    if entry is None:
        return
    entry.refused += [str(each) for each in words]
    if form is not None:
        entry.refused += error_words(form)
    if form is not None and "seen" in form.fields:
        entry.fresh["seen"] = str(form["seen"].value() or "")
    entry.fresh |= fresh or {}


def error_words(form: Any) -> list[str]:
    labels = {name: form.fields[name].label or "" for name in form.errors if name in form.fields}
    return [
        f"{labels[name]}: {words}" if labels.get(name) else str(words)
        for name, errors in form.errors.items()
        for words in errors
    ]


def sent_once(*, apart: bool = False) -> Callable[[View], View]:
    """Marks a view whose form a phone may send late and more than once.

    It is one transaction with its receipt. A view that works on pictures is not: with `apart` it does twice
    what can be done twice, and calls `write_receipt` in the transaction of what cannot.
    """

    def mark(view: View) -> View:
        @wraps(view)
        def answer(request: Any, *args: Any, **kwargs: Any) -> HttpResponse:
            request.entry = sent_entry(request) if request.method == "POST" else None
            if request.entry is None:
                return view(request, *args, **kwargs)
            if request.entry.member not in (None, request.member.pk):
                return JsonResponse({"other_member": True}, status=409)
            act = once_apart if apart else once
            return act(request, lambda: view(request, *args, **kwargs))

        return answer

    return mark


def sent_entry(request: Any) -> Entry | None:
    try:
        uid = UUID(request.POST.get("entry_uid", ""))
    except ValueError:
        return None
    age, member = request.POST.get("entry_age", ""), request.POST.get("entry_member", "")
    waited = timedelta(milliseconds=int(age)) if age.isdecimal() and len(age) < 12 else timedelta()
    return Entry(uid, int(member) if member.isdecimal() else None, min(waited, LONGEST))


def once(request: Any, act: Callable[[], HttpResponse]) -> HttpResponse:
    try:
        with transaction.atomic():
            if there := receipt_of(request):
                return said_kept(request, there.onward)
            response = act()
            if was_kept(request, response):
                write_receipt(request, response.headers.get("Location", ""))
            else:
                transaction.set_rollback(True)
    except IntegrityError:
        if there := receipt_of(request):  # the other of two sent at the same moment was quicker
            return said_kept(request, there.onward)
        raise
    return in_kind(request, response)


def once_apart(request: Any, act: Callable[[], HttpResponse]) -> HttpResponse:
    if there := receipt_of(request):
        return said_kept(request, there.onward)
    response = act()
    if was_kept(request, response):
        write_receipt(request, response.headers.get("Location", ""))
    return in_kind(request, response)


def was_kept(request: Any, response: HttpResponse) -> bool:
    return response.status_code in (301, 302, 303) and not request.entry.refused


def receipt_of(request: Any) -> PhoneReceipt | None:
    found: PhoneReceipt | None = PhoneReceipt.objects.filter(uid=request.entry.uid).first()
    return found


def write_receipt(request: Any, onward: str = "") -> bool:
    """Whether this was the first time; `apart` views ask before they write what must not come twice."""
    if entry_of(request) is None:
        return True
    values = {"member": request.member, "kept_at": request.now, "onward": onward[:300]}
    receipt, new = PhoneReceipt.objects.get_or_create(uid=request.entry.uid, defaults=values)
    if not new and onward and not receipt.onward:
        PhoneReceipt.objects.filter(pk=receipt.pk).update(onward=onward[:300])
    return new


def in_kind(request: Any, response: HttpResponse) -> HttpResponse:
    """A script is answered in JSON, a form as ever."""
    if not wants_json(request):
        return response
    if was_kept(request, response):
        return said_kept(request, response.headers.get("Location", ""))
    list(messages.get_messages(request))  # said with the entry, not on the next page
    words = request.entry.refused or [_("This cannot be kept as it is. Open it again and look.")]
    return JsonResponse({"refused": words, "fresh": request.entry.fresh}, status=422)


def said_kept(request: Any, onward: str) -> HttpResponse:
    if not wants_json(request):
        return redirect(onward or request.path)
    if request.headers.get("X-Quiet"):
        keep_warnings(request)
    return JsonResponse({"kept": str(request.entry.uid), "next": onward})


def keep_warnings(request: Any) -> None:
    """Many at once: of their notices only what went wrong is said on the next page."""
    for message in list(messages.get_messages(request)):
        if message.level >= messages.WARNING:
            messages.add_message(request, message.level, message.message)


def wants_json(request: Any) -> bool:
    return bool(request.headers.get("Accept") == "application/json")
