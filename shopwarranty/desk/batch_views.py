"""Certificates for many jobs: choose, start, and see how far it is."""

import uuid
from contextlib import suppress
from typing import Any, Final

from django.contrib import messages
from django.core.paginator import Paginator
from django.db.models import Case, Count, Q, When
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from shopwarranty.shops.access import ANYONE, DESK, actor_of, allow
from shopwarranty.web.notices import tell

from .batch import NothingChosen, start_batch, stop_batch
from .models import BatchLine, CertificateBatch
from .without_certificate import SHOWN, jobs_without, lacking_nothing, lacks_of, lacks_of_shop

PER_PAGE: Final = 50
SECTION: Final = "certificates"
State = BatchLine.State


@require_http_methods(["GET", "POST"])
@allow(DESK)
def issue_together(request: Any) -> HttpResponse:
    """The jobs without a certificate, what each lacks, and which of them to issue now."""
    if request.method == "POST":
        started = started_from(request)
        if started is not None:
            return redirect("certificate-batch", request.shop.slug, started.pk)
    shown = request.GET.get("show", "")
    rows = jobs_without(request.today, shown)
    page = Paginator(rows, PER_PAGE).get_page(request.GET.get("page"))
    for row in page.object_list:
        row.lacks = lacks_of(row, request.shop.slug)
    context = {
        "page": page,
        "shown": shown,
        "choices": SHOWN,
        "ready": lacking_nothing(rows).count(),
        "hindering": lacks_of_shop(request.shop, request.now),
        "chosen": {int(pk) for pk in request.POST.getlist("job") if pk.isdecimal()},
        "mail": request.POST.get("mail", ""),
        "uid": uuid.uuid4(),
        "running": CertificateBatch.objects.filter(finished_at__isnull=True).first(),
        "section": SECTION,
    }
    return render(request, "desk/issue_together.html", context)


def started_from(request: Any) -> CertificateBatch | None:
    """None, with a notice, when nothing was chosen or something stops every certificate."""
    if lacks_of_shop(request.shop, request.now):
        tell(request, _("Put right first what stops every certificate."), level=messages.WARNING)
        return None
    rows = jobs_without(request.today, request.GET.get("show", ""))
    if "all" in request.POST:
        jobs = list(lacking_nothing(rows).values_list("pk", flat=True))
    else:
        jobs = [int(pk) for pk in request.POST.getlist("job") if pk.isdecimal() and len(pk) < 18]
    with suppress(NothingChosen):
        return start_batch(
            jobs=jobs,
            mail=request.POST.get("mail") == "yes",
            actor=actor_of(request),
            now=request.now,
            uid=uid_of(request),
        )
    tell(request, _("Choose at least one job."), level=messages.WARNING)
    return None


def uid_of(request: Any) -> uuid.UUID:
    """Made when the page was: pressing twice starts once."""
    with suppress(ValueError):
        return uuid.UUID(request.POST.get("uid", ""))
    return uuid.uuid4()


@require_GET
@allow(ANYONE)
def certificate_batch(request: Any, pk: int) -> HttpResponse:
    """How far it is; loading the page again shows the present state."""
    batch = get_object_or_404(CertificateBatch.objects.select_related("started_by"), pk=pk)
    counts = counted(batch)
    rows = lines_of(batch, request.GET.get("show", ""))
    page = Paginator(rows, PER_PAGE).get_page(request.GET.get("page"))
    context = {
        "batch": batch,
        "issued": counts[State.ISSUED],
        "refused": counts[State.REFUSED],
        "already": counts[State.ALREADY],
        "stopped": counts[State.STOPPED],
        "all": sum(counts.values()),
        "done": sum(counts.values()) - counts[State.WAITING],
        "page": page,
        "shown": request.GET.get("show", ""),
        "choices": [("", _("All")), *State.choices],
        "may_stop": request.member.is_owner or request.member.is_desk,
        "section": SECTION,
    }
    return render(request, "desk/certificate_batch.html", context)


def counted(batch: CertificateBatch) -> dict[str, int]:
    asked = {state: Count("pk", filter=Q(state=state)) for state in State.values}
    found: dict[str, int] = batch.lines.aggregate(**asked)
    return found


def lines_of(batch: CertificateBatch, shown: str) -> Any:
    """What was not issued first: that is what somebody has to do something about."""
    rows = batch.lines.select_related("job__vehicle", "certificate__holder")
    rows = rows.filter(state=shown) if shown in State.values else rows
    return rows.order_by(Case(When(state=State.REFUSED, then=0), default=1), "pk")


@require_POST
@allow(DESK)
def stop_certificate_batch(request: Any, pk: int) -> HttpResponse:
    batch = get_object_or_404(CertificateBatch, pk=pk)
    left = stop_batch(batch=batch, actor=actor_of(request), now=request.now)
    words = ngettext("Stopped. One job was left out.", "Stopped. %(n)s jobs were left out.", left)
    tell(request, words % {"n": left} if left else _("There was nothing left to stop."))
    return redirect("certificate-batch", request.shop.slug, pk)
