"""A holder's consent to a way that is less careful than the method."""

from typing import Any

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from shopwarranty.jobs.models import Job
from shopwarranty.shops.access import DESK, actor_of, allow
from shopwarranty.web.notices import tell

from . import actions
from .forms import ConsentForm
from .views import the_trial
from .words import arm_words


@require_http_methods(["GET", "POST"])
@allow(DESK)
def trial_consent(request: Any, pk: int) -> HttpResponse:
    """`job` in the question names whose holder is asked."""
    row, number = the_trial(pk), request.GET.get("job", "")
    job = get_object_or_404(Job.objects.select_related("vehicle"), pk=number if number.isdecimal() else 0)
    holding = job.vehicle.holdings.filter(role="holder", until__isnull=True).select_related("party").first()
    form = ConsentForm(request.POST or None, initial={"words": said_words(row)})
    if holding and form.is_valid():
        actions.record_consent(
            trial=row,
            vehicle=job.vehicle,
            party=holding.party,
            words=form.cleaned_data["words"],
            actor=actor_of(request),
            now=request.now,
        )
        tell(request, _("The consent is recorded. The draw may be made."))
        return redirect("trial", request.shop.slug, row.pk)
    context = {"trial": row, "job": job, "holder": holding and holding.party, "form": form}
    return render(request, "trials/consent.html", {**context, "section": "trials"})


def said_words(row: Any) -> str:
    return _(
        "Some places of my vehicle will be done another way (%(other)s in place of %(usual)s), drawn by lot, "
        "so that the shop can learn. My warranty covers them in full, as every other place."
    ) % {"other": arm_words(row, row.other_value), "usual": arm_words(row, row.usual_value)}
