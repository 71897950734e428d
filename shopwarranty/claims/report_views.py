"""What comes into a claim from outside: a holder's report in one step, and photos."""

from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from shopwarranty.inspections.actions.refusals import CheckRefusal
from shopwarranty.inspections.holder.reports import NoJobNamed
from shopwarranty.inspections.models import HolderReport
from shopwarranty.inspections.words import refusal_words as check_words
from shopwarranty.jobs.models import Job
from shopwarranty.shops.access import ANYONE, actor_of, allow
from shopwarranty.web.notices import tell

from . import actions
from .incoming import keep_photos, say_opened
from .views import the_claim


@require_POST
@allow(ANYONE)
def claim_from_report(request: Any, pk: int) -> HttpResponse:
    """The button beside "Accept" on the report's page."""
    report = get_object_or_404(HolderReport.objects.select_related("vehicle__shop", "shop", "party"), pk=pk)
    jobs = Job.objects.filter(vehicle=report.vehicle_id)
    named = request.POST.get("job", "")
    chosen = jobs.filter(pk=named).first() if named.isdecimal() and len(named) < 18 else None
    try:
        opened = actions.claim_from_report(
            report=report,
            job=chosen or (jobs.first() if jobs.count() == 1 else None),
            actor=actor_of(request),
            now=request.now,
            today=request.today,
        )
    except NoJobNamed:
        tell(request, _("Choose first which job it is about."), level=messages.WARNING)
        return redirect("report", request.shop.slug, pk)
    except CheckRefusal as refusal:
        tell(request, check_words(refusal), level=messages.ERROR)
        return redirect("report", request.shop.slug, pk)
    say_opened(request, opened)
    return redirect("claim", request.shop.slug, opened.pk)


@require_POST
@allow(ANYONE)
def add_photos(request: Any, pk: int) -> HttpResponse:
    keep_photos(request, the_claim(pk))
    return redirect("claim", request.shop.slug, pk)
