"""The rules that must hold in the database whatever a test did. Each returns what breaks it, in words."""

import re
from collections.abc import Callable, Collection, Iterator
from datetime import timedelta
from functools import cache
from pathlib import Path
from typing import Any

from django.apps import apps
from django.conf import settings
from django.db import connection
from django.db.models import Count, Exists, F, Max, OuterRef, Q, QuerySet

from shopwarranty.defects.lives import differences
from shopwarranty.defects.models import Defect, Life, Remedy, Sighting
from shopwarranty.films.models import Roll
from shopwarranty.inspections.models import BookedQuarter, Booking, Check, Finding, Visit
from shopwarranty.jobs.models import (
    Deviation,
    FilmPiece,
    Job,
    LayingEvent,
    PanelWork,
    Photo,
    Place,
    Reading,
)
from shopwarranty.outbox.models import Message
from shopwarranty.shops.models import Change
from shopwarranty.shops.rows import Basis, ShopOwned
from shopwarranty.shops.scope import every_shop, shop_scope
from shopwarranty.shops.stored_bytes import DamagedFile, read
from shopwarranty.shops.triggers import shop_links
from shopwarranty.warranty.models import Certificate, Cover

CERTIFICATE_KEY = re.compile(r"certificate:(\d+):")
BOOKING_KEY = re.compile(r"booking:([0-9a-f]{32}):v(\d+):")
Rule = Callable[[], Iterator[str]]


Asked = tuple[str, str, tuple[Any, ...]]  # what is wrong with the rows found; how to find their ids


def asked(words: str, rows: QuerySet[Any]) -> Asked:
    sql, params = rows.order_by().values_list("pk").query.sql_with_params()
    return words, sql, tuple(params)


@cache
def in_one(questions: Callable[[], Iterator[Asked]]) -> tuple[tuple[str, ...], str, tuple[Any, ...]]:
    """Some hundred questions as one statement: asked apart they would cost every test its time again."""
    with every_shop():
        found = tuple(questions())
    parts = (f"SELECT {n}, q.pk FROM ({sql}) q" for n, (_, sql, _) in enumerate(found))
    params = tuple(param for *_, each in found for param in each)
    return tuple(words for words, *_ in found), " UNION ALL ".join(parts), params


def asked_at_once(questions: Callable[[], Iterator[Asked]]) -> Iterator[tuple[str, int]]:
    words, sql, params = in_one(questions)
    with connection.cursor() as cursor:
        cursor.execute(sql, params)
        yield from ((words[number], pk) for number, pk in cursor.fetchall())


def broken(but: Collection[str] = ()) -> list[str]:
    """`but` names rules that a test breaks on purpose."""
    with every_shop():
        return [f"{rule.__name__}: {fault}" for rule in RULES if rule.__name__ not in but for fault in rule()]


def nothing_points_to_another_shop() -> Iterator[str]:
    yield from (words for words, _ in asked_at_once(links_to_other_shops))


def links_to_other_shops() -> Iterator[Asked]:
    for model in (m for m in apps.get_models() if issubclass(m, ShopOwned)):
        for link in shop_links(model):
            table, other = model._meta.db_table, link.related_model._meta.db_table  # type: ignore[union-attr]
            yield (
                f"{table}.{link.column}",
                f'SELECT a.id AS pk FROM "{table}" a JOIN "{other}" b ON a."{link.column}" = b.id '
                "WHERE a.shop_id <> b.shop_id",
                (),
            )


def by_method_only_after_the_panel_was_confirmed() -> Iterator[str]:
    """Rule 1: what nobody stated or confirmed is not recorded."""
    yield from (f"{words} {pk}" for words, pk in asked_at_once(by_method_and_not_confirmed))


def by_method_and_not_confirmed() -> Iterator[Asked]:
    for model, panel in ((PanelWork, ""), (Place, "piece__panel_work__")):
        for field in model._meta.get_fields():
            if field.name.endswith("_basis"):
                wrong = {field.name: Basis.BY_METHOD, f"{panel}confirmed_at__isnull": True}
                yield asked(f"{model.__name__}.{field.name}", model.objects.filter(**wrong))


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
    ended = Count("pk", filter=~Q(ended=Life.Ended.OPEN))
    places = Life.objects.order_by().values("place")
    for row in places.annotate(last=Max("number"), lives=Count("pk"), ended_lives=ended):
        if row["last"] != row["lives"]:
            yield f"place {row['place']} skips a life"
        if row["ended_lives"] < row["lives"] - 1:
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
        if quarter.lane != booking.lane:
            yield f"quarter {quarter.pk} is in another lane than its booking"


def a_defect_put_right_has_a_remedy() -> Iterator[str]:
    rows = Defect.objects.filter(state=Defect.State.REMEDIED, remedies__isnull=True)
    yield from (f"defect {row.number}" for row in rows)


def what_hangs_together_is_of_one_job() -> Iterator[str]:
    """Tenancy keeps shops apart; this keeps one customer's vehicle apart from the next one's."""
    yield from (f"{words} (row {pk})" for words, pk in asked_at_once(two_ways_apart))


def two_ways_apart() -> Iterator[Asked]:
    for model, one, other in SAME:
        both = Q(**{f"{one}__isnull": False, f"{other}__isnull": False})
        rows = model.objects.filter(both).exclude(**{one: F(other)})
        yield asked(f"{model.__name__}: {one} is not {other}", rows)


def lives_are_what_the_record_says() -> Iterator[str]:
    """Where lives are stored and visits are finished, as `rebuild_lives --check` compares them."""
    looked = Visit.objects.filter(state=Visit.State.FINISHED, job__lives__isnull=False)
    for shop_id in set(looked.values_list("shop_id", flat=True)):
        with shop_scope(shop_id):
            jobs = set(looked.filter(shop_id=shop_id).values_list("job_id", flat=True))
            if (found := differences(jobs)).total:
                counts = f"{found.made} missing, {found.changed} different, {found.dropped} too many"
                yield f"shop {shop_id}: {counts}"


def a_customer_whose_vehicle_was_handed_over_has_a_certificate() -> Iterator[str]:
    """Rule 5, where handing over was the act itself, not an import or a row made by a test."""
    acts = Change.objects.filter(table=Job._meta.db_table, act=Job.State.HANDED_OVER).values("row")
    rows = Job.objects.filter(pk__in=acts, kind=Job.Kind.CUSTOMER, imported_at__isnull=True)
    yield from (f"job {row.ref} has none" for row in rows.filter(certificates__isnull=True))


def a_replaced_certificate_has_a_successor() -> Iterator[str]:
    replaced = Certificate.objects.filter(state=Certificate.State.REPLACED, successors__isnull=True)
    yield from (f"certificate {row.number} edition {row.edition}" for row in replaced)
    for row in Certificate.objects.exclude(predecessor=None).filter(predecessor__state="issued"):
        yield f"certificate {row.number} edition {row.edition} follows one that is still in force"


def a_certificates_paper_lies_under_its_hash() -> Iterator[str]:
    """Where this test's folder has files at all: rows made through the models have none."""
    if Path(settings.MEDIA_ROOT).exists():
        for row in Certificate.objects.exclude(pdf_sha256="").only("number", "pdf_sha256", "pdf_length"):
            try:
                content = read(row.pdf_sha256)
            except DamagedFile as damage:
                yield f"certificate {row.number}: {damage}"
            else:
                if len(content) != row.pdf_length:
                    yield f"certificate {row.number} has {len(content)} bytes instead of {row.pdf_length}"


def a_message_is_about_something_that_happened() -> Iterator[str]:
    """Rule 8: its key is made of the fact it tells. Calling off a time is a version of its own."""
    for key, shop_id in Message.objects.values_list("key", "shop_id"):
        if known := CERTIFICATE_KEY.match(key):
            if not Certificate.objects.filter(shop_id=shop_id, pk=known[1]).exists():
                yield f"message {key}"
        elif known := BOOKING_KEY.match(key):
            rows = Booking.objects.filter(shop_id=shop_id, uid=known[1], sequence__gte=known[2])
            if not rows.exists():
                yield f"message {key}"


def a_check_that_was_done_was_a_visit() -> Iterator[str]:
    """Where an act settled it: tests and imports also make rows that are done from the start."""
    acts = Change.objects.filter(table=Check._meta.db_table, act=Check.State.DONE).values("row")
    kept = Visit.objects.filter(check_due=OuterRef("pk"), state=Visit.State.FINISHED)
    rows = Check.objects.filter(pk__in=acts, state=Check.State.DONE)
    yield from (f"check {row.pk}" for row in rows.filter(~Exists(kept)))


# Two ways from a row that must lead to the same row, where both lead anywhere.
SAME: tuple[tuple[Any, str, str], ...] = (
    (Finding, "place__piece__panel_work__job", "visit__job"),
    (Finding, "corrects__place", "place"),
    (Sighting, "defect__place", "finding__place"),
    (Defect, "recurrence_of__place__piece__panel_work", "place__piece__panel_work"),
    (Remedy, "visit__job", "defect__place__piece__panel_work__job"),
    (Life, "job", "place__piece__panel_work__job"),
    (Life, "defect__place", "place"),
    (Visit, "check_due__job", "job"),
    (Visit, "booking__check_due", "check_due"),
    (Certificate, "vehicle", "job__vehicle"),
    (Certificate, "predecessor__job", "job"),
    (Cover, "piece__panel_work__job", "certificate__job"),
    (Cover, "line__plan_version", "certificate__plan_version"),
    (Reading, "panel_work__job", "job"),
    (Deviation, "panel_work__job", "job"),
    (Deviation, "place__piece__panel_work", "panel_work"),
    (LayingEvent, "place__piece__panel_work", "panel_work"),
    (Photo, "job__vehicle", "vehicle"),
    (Photo, "panel_work__job", "job"),
    (Photo, "place__piece__panel_work", "panel_work"),
    (FilmPiece, "lot__product", "product"),
    (FilmPiece, "roll__product", "product"),
    (FilmPiece, "roll__lot", "lot"),
    (Roll, "lot__product", "product"),
)

RULES: tuple[Rule, ...] = (
    nothing_points_to_another_shop,
    by_method_only_after_the_panel_was_confirmed,
    a_finding_is_wrong_when_and_only_when_something_was_seen,
    a_life_runs_forward_and_ends_once,
    a_certificate_lasts_as_long_as_its_longest_cover,
    a_booking_holds_exactly_its_quarters,
    a_defect_put_right_has_a_remedy,
    what_hangs_together_is_of_one_job,
    lives_are_what_the_record_says,
    a_customer_whose_vehicle_was_handed_over_has_a_certificate,
    a_replaced_certificate_has_a_successor,
    a_certificates_paper_lies_under_its_hash,
    a_message_is_about_something_that_happened,
    a_check_that_was_done_was_a_visit,
)
