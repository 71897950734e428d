"""What the last job on the same model can tell a new one: where film was to go, what came off, piece sizes.

Nothing of what was reached, heated or measured: those are facts of that job alone.
"""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Final

from django.utils.translation import gettext as _

from shopwarranty.shops.models import Change
from shopwarranty.trade.method import place_values
from shopwarranty.trade.technique import BY_KEY, Value
from shopwarranty.web.formats import ShopLike, exact, short_length
from shopwarranty.web.trade_names import first_upper

from .models import Job
from .record_parts import JobRecord, PanelRecord
from .words import phrase

COPIED: Final = "copied from the last job"
# Wanted wrap-in, and what hides the edge; the rest of a place is what was done there.
FIELDS: Final = ("wrap_in_wanted_mm", "covered_by")


@dataclass(frozen=True, slots=True)
class Line:
    """One thing to take over. `key` names it in the form; `place_id` or else `panel_id` is where it goes."""

    key: str
    kind: str
    panel_id: int
    panel: str
    words: str
    place_id: int | None = None
    field: str = ""
    value: Value = None
    name: str = ""


def last_similar(job: Job) -> Job | None:
    """The newest other job on the same make, model and body style that has a finished panel."""
    vehicle = job.vehicle
    if not vehicle.model.strip():
        return None
    rows = Job.objects.filter(
        vehicle__make__iexact=vehicle.make,
        vehicle__model__iexact=vehicle.model,
        vehicle__body_style=vehicle.body_style,
        panels__finished_at__isnull=False,
        started_at__lte=job.started_at,
    )
    found: Job | None = rows.exclude(pk=job.pk).order_by("-started_at", "-pk").first()
    return found


def is_offered(record: JobRecord) -> bool:
    """On a job that has panels, none of them confirmed or finished yet."""
    touched = any(panel.confirmed_at or panel.finished_at for panel in record.panels)
    return record.state == Job.State.OPEN and bool(record.panels) and not touched


def standing_copy(job_id: int) -> Change | None:
    """The newest copying of this job, if nobody took it back."""
    rows = Change.objects.filter(table=Job._meta.db_table, row=job_id, act__startswith=COPIED)
    last = rows.order_by("-pk").first()
    return last if last is not None and last.act == COPIED else None


def lines(
    of: JobRecord, to: JobRecord, shop: ShopLike, method: Mapping[str, Any] | None = None
) -> tuple[Line, ...]:
    """What the old job tells of panels that the new one has, where neither it nor its method says so yet."""
    old = {panel.key: panel for panel in of.panels}
    made: list[Line] = []
    for panel in to.panels:
        if panel.key in old:
            made += [
                *place_lines(old[panel.key], panel, shop, method or {}),
                *part_lines(old[panel.key], panel),
            ]
            made += size_lines(old[panel.key], panel, shop)
    return tuple(made)


def place_lines(
    old: PanelRecord, new: PanelRecord, shop: ShopLike, method: Mapping[str, Any]
) -> Iterator[Line]:
    told = {place.key: place for place in old.places}
    for place in new.places:
        usual = place_values(method, new.key, place.key, place.kind) if method else {}
        for field in FIELDS:
            value = told[place.key].value(field) if place.key in told else None
            if value in (None, usual.get(field)) or place.value(field) is not None:
                continue
            words = f"{first_upper(place.name)}: {phrase(BY_KEY[field], value, shop)}"
            key = f"{place.id}/{field}"
            yield Line(key, "value", new.id, new.name, words, place.id, field, value)


def part_lines(old: PanelRecord, new: PanelRecord) -> Iterator[Line]:
    there = {item.name.casefold() for item in new.removed_items}
    for name in dict.fromkeys(item.name for item in old.removed_items):
        if name.casefold() not in there:
            words = _("%(part)s comes off") % {"part": first_upper(name)}
            yield Line(f"{new.id}/off/{name}", "part", new.id, new.name, words, name=name)


def size_lines(old: PanelRecord, new: PanelRecord, shop: ShopLike) -> Iterator[Line]:
    sizes = [size_words(piece.name, piece.cut, shop) for piece in old.standing_pieces if piece.cut]
    if sizes:
        words = _("Cut %(sizes)s") % {"sizes": "; ".join(sizes)}
        yield Line(f"{new.id}/size", "size", new.id, new.name, words, name="; ".join(sizes))


def size_words(name: str, cut: object, shop: ShopLike) -> str:
    along, across = getattr(cut, "along_mm", None), getattr(cut, "across_mm", None)
    measured = [str(short_length(exact(each), shop)) for each in (along, across) if each is not None]
    return " ".join(part for part in (name, " × ".join(measured)) if part)


def chosen(offered: Iterable[Line], keys: Iterable[str]) -> tuple[Line, ...]:
    wanted = frozenset(keys)
    return tuple(line for line in offered if line.key in wanted)
