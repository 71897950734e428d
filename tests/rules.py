"""The rules that must hold in the database whatever a test did. Each returns what breaks it, in words."""

from collections.abc import Callable, Iterator
from datetime import timedelta

from django.apps import apps
from django.db import connection
from django.db.models import Count, F, Max, Q

from shopwarranty.defects.models import Defect, Life, Sighting
from shopwarranty.inspections.models import BookedQuarter, Booking, Finding, Visit
from shopwarranty.jobs.models import PanelWork, Place
from shopwarranty.shops.rows import Basis, ShopOwned
from shopwarranty.shops.scope import every_shop
from shopwarranty.shops.triggers import shop_links
from shopwarranty.warranty.models import Certificate

Rule = Callable[[], Iterator[str]]


def broken() -> list[str]:
    with every_shop():
        return [f"{rule.__name__}: {fault}" for rule in RULES for fault in rule()]


def nothing_points_to_another_shop() -> Iterator[str]:
    with connection.cursor() as cursor:
        for model in (m for m in apps.get_models() if issubclass(m, ShopOwned)):
            for link in shop_links(model):
                table, other = model._meta.db_table, link.related_model._meta.db_table  # type: ignore[union-attr]
                cursor.execute(
                    f'SELECT COUNT(*) FROM "{table}" a JOIN "{other}" b ON a."{link.column}" = b.id '
                    "WHERE a.shop_id <> b.shop_id"
                )
                if cursor.fetchone()[0]:
                    yield f"{table}.{link.column}"


def by_method_only_after_the_panel_was_confirmed() -> Iterator[str]:
    """Rule 1: what nobody stated or confirmed is not recorded."""
    for model, panel in ((PanelWork, ""), (Place, "piece__panel_work__")):
        for field in model._meta.get_fields():
            if field.name.endswith("_basis"):
                rows = model.objects.filter(
                    **{field.name: Basis.BY_METHOD, f"{panel}confirmed_at__isnull": True}
                )
                if rows.exists():
                    yield f"{model.__name__}.{field.name}"


def a_finding_is_wrong_when_and_only_when_something_was_seen() -> Iterator[str]:
    """Rules 1 and 2, for visits that are finished."""
    wrong = Finding.objects.filter(visit__state=Visit.State.FINISHED, result=Finding.Result.DEFECT)
    yield from (f"finding {row.pk} saw nothing" for row in wrong.filter(sightings__isnull=True))
    other = Sighting.objects.exclude(finding__result=Finding.Result.DEFECT)
    yield from (f"sighting {row.pk} in a finding that is not wrong" for row in other)


def a_life_runs_forward_and_ends_once() -> Iterator[str]:
    """Rule 3."""
    bad = Life.objects.filter(
        Q(failed_day__lte=F("clean_day"))
        | Q(clean_day__lt=F("entry_day"))
        | Q(failed_day__lte=F("entry_day"))
        | Q(all_failed_day__lte=F("all_clean_day"))
    )
    yield from (f"life {row.pk} of place {row.place_id} runs backward" for row in bad)
    for row in Life.objects.values("place").annotate(last=Max("number"), lives=Count("pk")):
        if row["last"] != row["lives"]:
            yield f"place {row['place']} skips a life"
        ended = Life.objects.filter(place=row["place"]).exclude(ended=Life.Ended.OPEN).count()
        if ended < row["lives"] - 1:
            yield f"place {row['place']} starts a life before the last one ended"


def a_certificate_lasts_as_long_as_its_longest_cover() -> Iterator[str]:
    for row in Certificate.objects.annotate(longest=Max("covers__last_day")):
        if row.longest and row.longest != row.last_day:
            yield f"certificate {row.number} says {row.last_day}, its covers {row.longest}"


def a_booking_holds_exactly_its_quarters() -> Iterator[str]:
    """Rule 7."""
    for row in Booking.objects.annotate(held=Count("quarters")):
        wanted = -(-row.minutes // 15) if row.state in ("booked", "kept", "not_kept") else 0
        if row.state == Booking.State.BOOKED and row.held != wanted:
            yield f"booking {row.pk} holds {row.held} quarters instead of {wanted}"
        if wanted == 0 and row.held:
            yield f"booking {row.pk} is {row.state} and still holds time"
    for quarter in BookedQuarter.objects.select_related("booking"):
        booking = quarter.booking
        if not booking.starts_at <= quarter.quarter < booking.starts_at + timedelta(minutes=booking.minutes):
            yield f"quarter {quarter.pk} lies outside its booking"


def a_defect_put_right_has_a_remedy() -> Iterator[str]:
    rows = Defect.objects.filter(state=Defect.State.REMEDIED, remedies__isnull=True)
    yield from (f"defect {row.number}" for row in rows)


RULES: tuple[Rule, ...] = (
    nothing_points_to_another_shop,
    by_method_only_after_the_panel_was_confirmed,
    a_finding_is_wrong_when_and_only_when_something_was_seen,
    a_life_runs_forward_and_ends_once,
    a_certificate_lasts_as_long_as_its_longest_cover,
    a_booking_holds_exactly_its_quarters,
    a_defect_put_right_has_a_remedy,
)
