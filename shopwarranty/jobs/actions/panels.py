"""Panels of a job: started, valued, finished one by one, opened again with a reason."""

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Final

from django.db import transaction
from django.utils.dateparse import parse_datetime

from shopwarranty.shops.history import Actor, record_change
from shopwarranty.shops.models import Change, Member

from ..models import (
    Deviation,
    Job,
    PanelIntake,
    PanelMember,
    PanelWork,
    Place,
)
from ..shop_catalogue import ShopCatalogue
from ..technique_rows import Said, as_text
from ..usual import usual_of_panel
from .pieces import NO_FILM_SAID, FilmChoice, guard_quarantine, make_piece, make_places
from .refusals import InTheFuture, PanelNotEmpty, PanelThere, ReasonForCorrection
from .values import (
    Target,
    guard_correction,
    guard_version,
    locked_panel,
    save_next_version,
    set_own_field,
    write_values,
)
from .vehicles import change_row

OPENED_AGAIN: Final = "panel opened again"


@transaction.atomic
def start_panels(
    *,
    job: Job,
    panels: Sequence[str],
    catalogue: ShopCatalogue,
    actor: Actor,
    now: datetime,
    film: FilmChoice = NO_FILM_SAID,
    lead: Member | None = None,
    reason: str = "",
) -> list[PanelWork]:
    """Panels the job puts film on, each with one piece and its places. Raises PanelThere, UnknownPanel."""
    guard_quarantine(film, reason)
    Job.objects.select_for_update().get(pk=job.pk)  # two at once do not start the same panel
    if there := job.panels.filter(panel__in=panels).first():
        raise PanelThere(there.panel)
    body = job.vehicle.body_style
    started = [start_panel(job, body, panel, catalogue, film, lead) for panel in panels]
    after = {
        "panels": list(panels),
        "film": str(film.columns["product"] or ""),
        "lot": str(film.columns["lot"] or ""),
    }
    record_change(row=job, act="panels started", actor=actor, at=now, after=after, why=reason)
    return started


def start_panel(
    job: Job, body: str, panel: str, catalogue: ShopCatalogue, film: FilmChoice, lead: Member | None
) -> PanelWork:
    panel_work = PanelWork.objects.create(job=job, panel=panel, walk=catalogue.walk(body, panel))
    make_places(make_piece(panel_work, film), catalogue.places(body, panel))
    if lead:
        PanelMember.objects.create(panel_work=panel_work, member=lead, is_lead=True)
    return panel_work


@transaction.atomic
def drop_panel(*, panel_work: PanelWork, actor: Actor, now: datetime) -> None:
    """Takes out a panel started by mistake. Raises PanelNotEmpty once something is recorded of it."""
    fresh = locked_panel(panel_work.pk)
    if not is_untouched(fresh):
        raise PanelNotEmpty
    record_change(row=fresh.job, act="panel taken out", actor=actor, at=now, before={"panel": fresh.panel})
    Place.objects.filter(piece__panel_work=fresh).delete()
    fresh.pieces.all().delete()
    fresh.members.all().delete()
    fresh.delete()


def is_untouched(panel_work: PanelWork) -> bool:
    if panel_work.confirmed_at or panel_work.finished_at or panel_work.version > 1:
        return False
    related = (panel_work.readings, panel_work.laying_events, panel_work.removed_items, panel_work.photos)
    others = [
        PanelIntake.objects.filter(panel_work=panel_work),
        Deviation.objects.filter(panel_work=panel_work),
    ]
    changed = Place.objects.filter(piece__panel_work=panel_work, version__gt=1)
    return not any(rows.exists() for rows in (*(r.all() for r in related), *others, changed))


@transaction.atomic
def finish_panel(
    *,
    panel_work: PanelWork,
    actor: Actor,
    now: datetime,
    finished_at: datetime | None = None,
    version: int | None = None,
) -> PanelWork:
    """The panel is done; its places count from that day in the shop's zone.

    Opened again after handover and finished without a time, it keeps the moment it was handed over with: what
    checks have seen since then counts from there. An installer who says so leads the panel, if nobody does.
    """
    fresh = locked_panel(panel_work.pk)
    if fresh.finished_at is not None:
        return fresh
    at = finished_at or handed_over_as_finished(fresh) or now
    if at > now:
        raise InTheFuture
    guard_version(fresh, version, {})
    fresh.finished_at = at
    save_next_version(fresh, ["finished_at"])
    if actor.member and actor.member.is_installer and not fresh.members.exists():
        PanelMember.objects.create(panel_work=fresh, member=actor.member, is_lead=True)
    record_change(row=fresh, act="panel finished", actor=actor, at=now, after={"finished_at": at})
    return fresh


def handed_over_as_finished(panel_work: PanelWork) -> datetime | None:
    """When the panel was finished that left with the vehicle; None if it has not left, or left unfinished."""
    if panel_work.job.state == Job.State.OPEN:
        return None
    opened = Change.objects.filter(
        table=PanelWork._meta.db_table,
        row=panel_work.pk,
        act=OPENED_AGAIN,
        at__gte=panel_work.job.handed_over_at,
    )
    first = opened.order_by("at", "pk").first()
    return parse_datetime(first.before["finished_at"]) if first else None


@transaction.atomic
def reopen_panel(*, panel_work: PanelWork, reason: str, actor: Actor, now: datetime) -> PanelWork:
    """More is to be done on it. After handover that is a correction like any other."""
    fresh = locked_panel(panel_work.pk)
    if fresh.finished_at is None:
        return fresh
    if not reason:
        raise ReasonForCorrection
    before = {"finished_at": fresh.finished_at}
    fresh.finished_at = None
    save_next_version(fresh, ["finished_at"])
    record_change(row=fresh, act=OPENED_AGAIN, actor=actor, at=now, before=before, why=reason)
    return fresh


@transaction.atomic
def set_panel_values(
    *,
    panel_work: PanelWork,
    values: Mapping[str, Said],
    actor: Actor,
    now: datetime,
    own: Mapping[str, Said] | None = None,
    note: str | None = None,
    reason: str = "",
    version: int | None = None,
) -> PanelWork:
    """Technique values of the panel; what is not the method's is a deviation with `reason`."""
    fresh = locked_panel(panel_work.pk)
    guard_correction(fresh.job, fresh, reason)
    target = Target(fresh.job, fresh)
    usual = usual_of_panel(fresh)
    write_values(target, values, usual, actor=actor, now=now, reason=reason, version=version)
    for key, said in (own or {}).items():
        set_own_field(
            target=target, key=key, value=as_text(said.value), basis=said.basis, actor=actor, now=now
        )
    if note is not None and note != fresh.note:
        change_row(fresh, {"note": note}, act="note", actor=actor, now=now, why=reason)
    return fresh


@transaction.atomic
def set_members(
    *,
    panel_work: PanelWork,
    lead: Member | None,
    others: Sequence[Member] = (),
    actor: Actor,
    now: datetime,
    reason: str = "",
) -> None:
    """Who worked on the panel; one leads, so that figures by installer count the panel once."""
    fresh = locked_panel(panel_work.pk)
    guard_correction(fresh.job, fresh, reason)
    before = [row.member.name for row in fresh.members.select_related("member")]
    fresh.members.all().delete()
    rows = [PanelMember(panel_work=fresh, member=lead, is_lead=True)] if lead else []
    rows += [PanelMember(panel_work=fresh, member=one, is_lead=False) for one in others if one != lead]
    PanelMember.objects.bulk_create(rows)
    after = [row.member.name for row in rows]
    if before != after:
        record_change(
            row=fresh,
            act="members",
            actor=actor,
            at=now,
            before={"members": before},
            after={"members": after},
            why=reason,
        )
