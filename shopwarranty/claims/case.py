"""One claimed defect as whoever decides needs it: promise, record, photos, facts, decisions."""

from dataclasses import dataclass
from datetime import date
from typing import Any

from django.db.models import Q

from shopwarranty.defects import defect_page
from shopwarranty.defects.models import Defect, Remedy
from shopwarranty.jobs.models import Photo
from shopwarranty.jobs.record_parts import IntakeRecord, ReadingRecord
from shopwarranty.jobs.shop_catalogue import ShopCatalogue
from shopwarranty.shops.models import Change

from .grounds import Ground, grounds_for
from .models import Claim, ClaimedDefect, ClaimFact, Decision, Proposal
from .places import where_words
from .promise import NO_PROMISE, Promise, clauses_of, promise_for

BEFORE = (Photo.Stage.INTAKE, Photo.Stage.WORK, Photo.Stage.HANDOVER)
ITEMS = "place__piece__panel_work__job__vehicle"


@dataclass(frozen=True, slots=True)
class ItemCase:
    """`said_since`: the holder's earliest "since when". `late`: record changed after the first report."""

    item: ClaimedDefect
    where: str
    promise: Promise
    grounds: tuple[Ground, ...]
    clauses: tuple[str, ...]
    facts: tuple[ClaimFact, ...]
    decisions: tuple[Decision, ...]
    proposal: Proposal | None
    record: defect_page.Record | None
    seen: tuple[defect_page.Seen, ...]
    remedies: tuple[tuple[Remedy, str], ...]
    before: tuple[Photo, ...]
    after: tuple[Photo, ...]
    said_since: date | None
    late: tuple[Change, ...]

    @property
    def decision(self) -> Decision | None:
        return self.decisions[-1] if self.decisions else None

    @property
    def no_evidence(self) -> bool:
        """Nothing on record speaks for any exclusion: said, and no ground for refusing."""
        return not any(fact.set_aside_at is None for fact in self.facts)

    @property
    def began_in_term(self) -> bool:
        """First reported after the last day, and said by the holder to have been there before it ended."""
        late = [line for line in self.promise.lines if not line.in_time and line.about_kind is not False]
        return self.said_since is not None and any(self.said_since <= line.last_day for line in late)

    @property
    def intake(self) -> IntakeRecord | None:
        return self.record.panel.intake if self.record and self.record.panel else None

    @property
    def reading(self) -> ReadingRecord | None:
        return self.record.panel.reading if self.record and self.record.panel else None


def items_of(claim: Claim) -> list[ClaimedDefect]:
    rows = claim.items.select_related(ITEMS, "place__piece__lot", "place__piece__roll", "defect", "proposal")
    found = list(rows.prefetch_related("facts__member", "facts__photo", "decisions__decided_by"))
    for item in found:
        item.claim = claim
    return found


def case_of(item: ClaimedDefect, catalogue: ShopCatalogue) -> ItemCase:
    """A fixed number of queries for each claimed defect."""
    shop = catalogue.shop
    promise = promise_for(item)
    where = where_words(item, catalogue)
    photos = photos_of(item)
    record = defect_page.load_place_record(item.place, shop, catalogue) if item.place else None
    return ItemCase(
        item=item,
        where=where,
        promise=promise,
        grounds=grounds_for(item, promise, where) if item.place or item.is_ours is False else (),
        clauses=clauses_of(promise) if promise is not NO_PROMISE else (),
        facts=tuple(item.facts.all()),
        decisions=tuple(sorted(item.decisions.all(), key=lambda row: (row.decided_at, row.pk))),
        proposal=getattr(item, "proposal", None),
        record=record,
        seen=tuple(defect_page.seen_lines(item.defect, shop)) if item.defect else (),
        remedies=tuple(defect_page.remedies_of(item.defect)) if item.defect else (),
        before=tuple(photo for photo in photos if photo.stage in BEFORE),
        after=tuple(photo for photo in photos if photo.stage not in BEFORE),
        said_since=said_since(item.defect),
        late=late_changes(item),
    )


def photos_of(item: ClaimedDefect) -> list[Photo]:
    """Of the place, of its whole panel, and those sent with the claim; oldest first."""
    wanted = Q(pk__in=item.claim.photos.values("photo"))
    if item.place is not None:
        panel = item.place.piece.panel_work_id
        wanted |= Q(place=item.place) | Q(panel_work=panel, place__isnull=True)
    if item.defect is not None:
        wanted |= Q(pk__in=item.defect.photos.values("photo"))
    return list(Photo.objects.filter(wanted, set_aside_at__isnull=True).order_by("added_at", "pk"))


def said_since(defect: Defect | None) -> date | None:
    if defect is None:
        return None
    rows = defect.sightings.filter(finding__visit__since_when__isnull=False)
    found: Any = rows.order_by("finding__visit__since_when")
    day: date | None = found.values_list("finding__visit__since_when", flat=True).first()
    return day


def late_changes(item: ClaimedDefect) -> tuple[Change, ...]:
    """What was changed in the record of place, piece and panel after the first report: allowed, and shown."""
    if item.place is None:
        return ()
    piece = item.place.piece
    about = Q(table="jobs_place", row=item.place_id) | Q(table="jobs_filmpiece", row=piece.pk)
    about |= Q(table="jobs_panelwork", row=piece.panel_work_id)
    return tuple(Change.objects.filter(about, at__gt=item.claim.first_reported_at).order_by("at")[:50])
