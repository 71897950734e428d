"""What anybody who holds number and code may see: whether a certificate is genuine and in force. No names."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from functools import wraps
from typing import Any, TypeVar

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.cache import patch_cache_control
from django.utils.translation import gettext as _
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.http import require_GET, require_http_methods

from shopwarranty.shops.asked_from import asked_from
from shopwarranty.shops.scope import every_shop, shop_scope

from .certificate_drawing import drawing_of
from .cover import CoverDates, PrintedTerm, printed_term_state
from .forms import MatchForm, NumberForm
from .matching import AskedTooOften, NotRecorded, matches
from .models import Certificate
from .numbers import NumberProblem, parse_number
from .paper_words import CoverRow, cover_rows
from .public_code import squeezed
from .snapshot_parts import Snapshot, read_snapshot
from .transfers import ended_by_sale

View = TypeVar("View", bound=Callable[..., HttpResponse])


@dataclass(frozen=True, slots=True)
class Answer:
    """What the page says. Nothing in it names a person, a plate or a whole VIN."""

    standing: str
    certificate: Certificate
    snapshot: Snapshot
    covered: tuple[CoverRow, ...]
    today: date
    sold_on: date | None = None


def kept_private(view: View) -> View:
    """Not stored, not indexed, and the address is told to nobody else."""

    @wraps(view)
    def inner(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        response = view(request, *args, **kwargs)
        patch_cache_control(response, no_store=True, private=True)
        response["Referrer-Policy"] = "no-referrer"
        response["X-Robots-Tag"] = "noindex, nofollow, noarchive"
        return response

    return inner  # type: ignore[return-value]


@kept_private
@require_GET
def find(request: HttpRequest, number: str = "") -> HttpResponse:
    """Number and code by hand. A number alone tells nothing, whether there is such a certificate or not."""
    form = NumberForm(request.GET if "code" in request.GET else None, initial={"number": number})
    if form.is_valid():
        try:
            typed = str(parse_number(form.cleaned_data["number"]))
        except NumberProblem as problem:
            form.add_error("number", problem_words(problem))
        else:
            code = squeezed(form.cleaned_data["code"])
            if code:
                return redirect("public-certificate", typed, code)
            form.add_error("code", _("Type the code that stands beside the number."))
    return render(request, "warranty/public_find.html", {"form": form, "number_alone": bool(number)})


def problem_words(problem: NumberProblem) -> str:
    words = problem.sentence.render(_)
    if problem.suggestion:
        words += " " + _("Perhaps %(number)s?") % {"number": problem.suggestion}
    return words


# A page whose address is told to nobody sends its form without an origin, which the CSRF check refuses.
# Nothing here belongs to a session: a forged post could only ask what anybody with the link may ask.
@csrf_exempt
@kept_private
@require_http_methods(["GET", "POST"])
def public_certificate(request: HttpRequest, number: str, code: str) -> HttpResponse:
    """Unknown number and wrong code give the same page. A post compares a plate or the end of a VIN."""
    certificate = found(number, code)
    if certificate is None:
        again = {"form": NumberForm(initial={"number": number[:40]})}
        return render(request, "warranty/public_unknown.html", again, status=404)
    with shop_scope(certificate.shop), timezone.override(certificate.shop.zone):
        answer = answer_for(certificate)
        form = MatchForm(request.POST or None)
        verdict = compare(request, certificate, form)
        context = {
            "answer": answer,
            "form": form,
            "verdict": verdict,
            "drawing": drawing_of(answer.snapshot, on_paper=False),
        }
        context |= {"shop": certificate.shop, "shown_shop": answer.snapshot.shop}
        return render(request, "warranty/public_certificate.html", context)


def found(number: str, code: str) -> Certificate | None:
    """By code, which is unguessable; the number must be its own."""
    with every_shop():
        row: Certificate | None = (
            Certificate.objects.select_related("shop", "vehicle").filter(code=squeezed(code)).first()
        )
    return row if row is not None and squeezed(number) == squeezed(row.number) else None


def answer_for(certificate: Certificate) -> Answer:
    snapshot = read_snapshot(certificate.snapshot)
    today = timezone.localdate()
    sold_on = ended_by_sale([certificate]).get(certificate.pk)
    stands = standing(certificate, snapshot, today, sold_on)
    return Answer(stands, certificate, snapshot, tuple(cover_rows(snapshot)), today, sold_on)


def standing(certificate: Certificate, snapshot: Snapshot, today: date, sold_on: date | None) -> str:
    """replaced, withdrawn, ended with a sale by its terms, or where the printed dates stand today."""
    if certificate.state != Certificate.State.ISSUED:
        return str(certificate.state)
    if sold_on is not None:
        return "sold"
    dates = [CoverDates(promise.first_day, promise.last_day) for promise in snapshot.promises]
    state = printed_term_state(dates, today)
    return {
        PrintedTerm.ENDED: "ended",
        PrintedTerm.PARTLY_ENDED: "partly",
        PrintedTerm.NOT_STARTED: "not_started",
    }.get(state, "in_force")


def compare(request: HttpRequest, certificate: Certificate, form: MatchForm) -> str:
    """ "matches", "differs", "unclear", "later", or "" when nothing was asked."""
    if request.method != "POST" or not form.is_valid():
        return ""
    typed, now = form.cleaned_data["typed"], timezone.now()
    try:
        same = matches(certificate=certificate, typed=typed, asked_from=asked_from(request), now=now)
    except AskedTooOften:
        return "later"
    except NotRecorded:
        return "unclear"
    return "matches" if same else "differs"
