"""A certificate issued beforehand names the planned day; when that moves, it is replaced by itself."""

from datetime import datetime

from django.db import transaction
from django.db.models import F, QuerySet
from django.utils.translation import gettext as _

from shopwarranty.jobs.models import Job
from shopwarranty.shops.having import shops_with
from shopwarranty.shops.history import Actor
from shopwarranty.shops.scope import shop_scope

from .actions import issue_prepared, prepare_edition
from .models import Certificate
from .refusals import CertificateRefusal, NothingDiffers, NotInForce
from .snapshot import NoHolder, NothingToCertify
from .telling import tell_issued, times_sent

TOOL = Actor(who="shopwarranty")


def replace_moved(now: datetime) -> int:
    """A step of the tick: certificates in force of jobs not handed over yet whose planned day has moved."""
    done = 0
    for shop in shops_with(moved_ones):
        with shop_scope(shop):
            for certificate in moved_ones().select_related("job", "plan_version"):
                done += replace_one(certificate, now)
    return done


def moved_ones() -> "QuerySet[Certificate]":
    rows = Certificate.objects.filter(state=Certificate.State.ISSUED, job__state=Job.State.OPEN)
    rows = rows.filter(job__planned_handover_on__isnull=False)
    return rows.exclude(job__planned_handover_on=F("starts_on"))


def replace_one(certificate: Certificate, now: datetime) -> bool:
    """Whoever was sent the earlier edition gets the new one. What cannot be issued now waits for a person."""
    day = certificate.job.planned_handover_on
    try:
        prepared = prepare_edition(certificate=certificate, handed_over_on=day, now=now)
        with transaction.atomic():
            why = _("The planned handover day moved.")
            issued = issue_prepared(prepared=prepared, actor=TOOL, now=now, why=why)
            if times_sent(certificate):
                tell_issued(issued, now=now)
    except (NothingDiffers, NotInForce, NoHolder, NothingToCertify, CertificateRefusal):
        return False
    return True
