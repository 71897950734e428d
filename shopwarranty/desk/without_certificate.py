"""Customers' jobs that have no certificate: handed over without one, or waiting for their planned day."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from django.db.models import Exists, OuterRef, Q, QuerySet
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from shopwarranty.jobs.models import FilmPiece, Holding, Job, Vehicle
from shopwarranty.shops.models import Shop
from shopwarranty.warranty.certificate_checks import unread_texts
from shopwarranty.warranty.plan_actions import usual_version
from shopwarranty.warranty.preparing import public_base
from shopwarranty.warranty.refusals import NoPublicAddress
from shopwarranty.warranty.specimen import specimen

from .handover_gaps import link

SHOWN = (
    ("", gettext_lazy("All of them")),
    ("left", gettext_lazy("Handed over without one")),
    ("planned", gettext_lazy("Planned to be handed over")),
)


@dataclass(frozen=True, slots=True)
class Lack:
    """What has to be put right before a certificate can be issued, and where."""

    words: str
    url: str
    act: str


def jobs_without(today: date, shown: str = "") -> "QuerySet[Job]":
    """The latest handover first. One that was withdrawn is a person's to issue anew, at its job."""
    left = ~Q(state=Job.State.OPEN)
    planned = Q(state=Job.State.OPEN, planned_handover_on__gte=today)
    wanted = {"left": left, "planned": planned}.get(shown, left | planned)
    rows = Job.objects.with_vehicle().filter(wanted, certificates__isnull=True)
    rows = rows.filter(kind=Job.Kind.CUSTOMER, vehicle__owned=Vehicle.Owned.CUSTOMER)
    latest = with_lacks(rows).order_by("handed_over_on", "planned_handover_on", "pk").reverse()
    found: QuerySet[Job] = latest
    return found


def with_lacks(rows: Any) -> Any:
    """Sets `has_holder` and `has_film` on each row."""
    holder = Holding.objects.filter(vehicle=OuterRef("vehicle"), role="holder", until__isnull=True)
    film = FilmPiece.objects.filter(
        panel_work__job=OuterRef("pk"),
        panel_work__finished_at__isnull=False,
        panel_work__removed_on__isnull=True,
        ended_on__isnull=True,
    )
    return rows.annotate(has_holder=Exists(holder), has_film=Exists(film))


def lacking_nothing(rows: Any) -> "QuerySet[Job]":
    """What can be told without reading each record; the rest is found when its turn comes, and said."""
    known = rows.exclude(vehicle__vin_kind=Vehicle.VinKind.TO_READ)
    found: QuerySet[Job] = known.filter(has_holder=True, has_film=True)
    return found


def lacks_of(job: Any, slug: str) -> tuple[Lack, ...]:
    return tuple(_lacks(job, slug))


def _lacks(job: Any, slug: str) -> Iterator[Lack]:
    vehicle = link("vehicle", slug, job.vehicle_id)
    if job.vehicle.vin_kind == Vehicle.VinKind.TO_READ:
        yield Lack(_("The VIN is still to be read."), vehicle, _("Type the VIN"))
    if not job.has_holder:
        yield Lack(_("Nobody is recorded as the warranty's holder."), vehicle, _("Add the holder"))
    if not job.has_film:
        words = _("No finished panel carries film of this job.")
        yield Lack(words, link("job", slug, job.pk), _("To the job"))


def lacks_of_shop(shop: Shop, now: datetime) -> tuple[Lack, ...]:
    """What stops every certificate, said once."""
    return tuple(_shop_lacks(shop, now))


def _shop_lacks(shop: Shop, now: datetime) -> Iterator[Lack]:
    settings = link("shop-settings", shop.slug)
    if not (shop.name.strip() and shop.address):
        yield Lack(_("The shop's postal address is missing."), settings, _("Add the address"))
    try:
        public_base(shop)
    except NoPublicAddress:
        yield Lack(_("The shop's public https address is not set."), settings, _("Set the address"))
    version = usual_version()
    if version is None:
        yield Lack(_("No warranty plan is published."), link("plans", shop.slug), _("Publish a plan"))
    elif not shop.is_demo and unread_texts(specimen(version, list(version.lines.all()), shop, now)):
        words = _("Required wording waits to be compared with the law's text.")
        yield Lack(words, link("legal-texts", shop.slug), _("Compare and confirm"))
