"""A holder's report becomes a claim in one step: the visit by photo, the claim, and its acknowledgement."""

import uuid
from datetime import date, datetime
from typing import Final

from django.db import transaction
from django.utils.translation import gettext as _

from shopwarranty.inspections.holder.reports import ReportSettled, accept_report
from shopwarranty.inspections.models import HolderReport
from shopwarranty.jobs.models import Job
from shopwarranty.shops.history import Actor

from ..models import Claim
from .opening import Reported, open_claim

REPORTS: Final = uuid.UUID("6f1d9c0e-3f0b-5c52-9a1e-0c6a7d2b4e11")
"""Names a report's claim, so that the same report opens one claim however often it is asked for."""


@transaction.atomic
def claim_from_report(
    *, report: HolderReport, job: Job | None, actor: Actor, now: datetime, today: date
) -> Claim:
    """First reported when the holder sent it; words, place and photos come along.

    Raises NoJobNamed when the vehicle has several jobs and none is named, ReportSettled for one that was put
    aside, or what `start_visit` raises.
    """
    uid = uuid.uuid5(REPORTS, f"{report.shop_id}:{report.pk}")
    there: Claim | None = Claim.objects.filter(uid=uid).first()
    if there is not None:
        return there
    visit = report.visit
    if report.state == HolderReport.State.SET_ASIDE:
        raise ReportSettled
    if report.state == HolderReport.State.WAITING:
        visit = accept_report(report=report, job=job, actor=actor, now=now, today=today)
    words = report.words.strip() or _("Sent in on the holder's page, without words.")
    return open_claim(
        vehicle=report.vehicle,
        items=[Reported(words, place=report.place)],
        actor=actor,
        now=now,
        channel=Claim.Channel.HOLDER,
        first_reported_at=report.sent_at,
        claimant=report.party,
        visit=visit,
        words=report.words,
        photos=[link.photo for link in report.photos.select_related("photo").order_by("pk")],
        uid=uid,
    )
