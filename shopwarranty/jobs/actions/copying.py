"""Taking over what the last job on the same model tells, and giving it back."""

from collections.abc import Iterable
from datetime import datetime
from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _

from shopwarranty.shops.history import Actor, record_change
from shopwarranty.shops.models import Change
from shopwarranty.shops.rows import Basis
from shopwarranty.trade.technique import BY_KEY

from ..copying import COPIED, Line
from ..models import Deviation, Job, PanelWork, Place, RemovedItem
from ..technique_rows import Said, as_text, columns_of, from_text, put, value_of
from .intake import add_removed_item
from .places import set_place_values
from .values import save_next_version

TAKEN_BACK = f"{COPIED}, taken back"


@transaction.atomic
def copy_from_job(*, job: Job, source: Job, lines: Iterable[Line], actor: Actor, now: datetime) -> Change:
    """The lines somebody looked at and pressed for: stated, each with the job it was taken from."""
    why = _("As on job %(ref)s") % {"ref": source.ref}
    kept: dict[str, Any] = {"from": source.ref, "values": [], "parts": [], "notes": []}
    for line in lines:
        if line.kind == "value" and line.place_id is not None:
            place = Place.objects.get(pk=line.place_id, piece__panel_work__job=job)
            said = {line.field: Said(line.value, Basis.STATED)}
            set_place_values(place=place, values=said, reason=why, actor=actor, now=now)
            kept["values"].append([line.place_id, line.field, as_text(line.value)])
        else:
            work = PanelWork.objects.get(pk=line.panel_id, job=job)
            _keep_of_panel(work, line, why, kept, actor, now)
    change: Change = record_change(row=job, act=COPIED, actor=actor, at=now, after=kept)
    return change


def _keep_of_panel(
    work: PanelWork, line: Line, why: str, kept: dict[str, Any], actor: Actor, now: datetime
) -> None:
    if line.kind == "part":
        item = add_removed_item(panel_work=work, name=line.name, note=why, actor=actor, now=now)
        kept["parts"].append(item.pk)
        return
    note = f"{why}: {line.words}"
    work.note = f"{work.note}\n{note}".strip()
    save_next_version(work, ["note"])
    kept["notes"].append([work.pk, note])


@transaction.atomic
def take_back_copy(*, change: Change, job: Job, actor: Actor, now: datetime) -> int:
    """What was taken over and still stands as it was taken over goes; how many lines that were."""
    kept = change.after or {}
    gone = sum(_clear(place, field, text, now) for place, field, text in kept.get("values", ()))
    items = RemovedItem.objects.filter(pk__in=kept.get("parts", ()), panel_work__job=job, outcome="")
    gone += items.delete()[0]
    gone += sum(_take_note(work, note) for work, note in kept.get("notes", ()))
    record_change(row=job, act=TAKEN_BACK, actor=actor, at=now, after={"from": kept.get("from", "")})
    return gone


def _clear(place_id: int, field: str, text: str, now: datetime) -> bool:
    place = Place.objects.filter(pk=place_id).first()
    if place is None or value_of(place, field) != from_text(BY_KEY[field], text):
        return False
    put(place, field, Said(None))
    save_next_version(place, list(columns_of(field)))
    Deviation.objects.filter(place=place, field=field, undone_at__isnull=True).update(undone_at=now)
    return True


def _take_note(work_id: int, note: str) -> bool:
    work = PanelWork.objects.filter(pk=work_id, note__contains=note).first()
    if work is None:
        return False
    work.note = work.note.replace(note, "").strip()
    save_next_version(work, ["note"])
    return True
