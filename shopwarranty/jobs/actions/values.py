"""Saving technique values at any level: checked, versioned, with their basis and what differs."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db.models import F

from shopwarranty.shops.history import Actor, record_change
from shopwarranty.shops.rows import Basis
from shopwarranty.trade.technique import BY_KEY, TechniqueField, Value, accept

from ..models import Deviation, FieldValue, Job, PanelWork, Place, ShopField
from ..technique_rows import JOB_FIELDS, PANEL_FIELDS, Said, as_text, columns_of, place_fields, put, value_of
from ..usual import compared_with, differs
from .refusals import DoesNotApply, ReasonForCorrection, StaleSave


@dataclass(frozen=True, slots=True)
class Target:
    """What the values are said of: a place, else a panel, else the job."""

    job: Job
    panel_work: PanelWork | None = None
    place: Place | None = None

    @property
    def row(self) -> Any:
        return self.place or self.panel_work or self.job

    @property
    def link(self) -> dict[str, Any]:
        """The one column that names this thing, in rows that may belong to any level."""
        if self.place:
            return {"place": self.place}
        return {"panel_work": self.panel_work} if self.panel_work else {"job": self.job}

    @property
    def fields(self) -> tuple[TechniqueField, ...]:
        if self.place:
            return place_fields(self.place.kind)
        return PANEL_FIELDS if self.panel_work else JOB_FIELDS

    @property
    def deviations(self) -> Any:
        """Those standing: not undone, of exactly this thing."""
        rows = Deviation.objects.filter(job=self.job, undone_at__isnull=True)
        return rows.filter(panel_work=self.panel_work, place=self.place)


def locked_panel(panel_work_id: int) -> PanelWork:
    """The panel as it is now, with its job and method; nobody else changes it until the transaction ends."""
    rows = PanelWork.objects.select_related("job__method_version__method", "job__vehicle")
    found: PanelWork = rows.select_for_update(of=("self",)).get(pk=panel_work_id)
    return found


def guard_correction(job: Job, panel_work: PanelWork | None, reason: str) -> None:
    """After handover a finished panel is only corrected, and a correction says why."""
    settled = panel_work is None or panel_work.finished_at is not None
    if job.state != Job.State.OPEN and settled and not reason:
        raise ReasonForCorrection


def write_values(
    target: Target,
    said: Mapping[str, Said],
    usual: Mapping[str, Value],
    *,
    actor: Actor,
    now: datetime,
    reason: str,
    version: int | None,
) -> None:
    """Raises DoesNotApply, ValueRefused (of the technique) or StaleSave; writes only what changes."""
    row = target.row
    accepted = {key: accepted_value(target, key, one) for key, one in said.items()}
    guard_version(row, version, accepted)
    changed = {key: one for key, one in accepted.items() if is_news(row, key, one)}
    if changed:
        before = {key: as_text(value_of(row, key)) for key in changed}
        for key, one in changed.items():
            put(row, key, one)
        columns = [column for key in changed for column in columns_of(key)]
        save_next_version(row, columns)
        after = {key: as_text(one.value) for key, one in changed.items()}
        record_change(row=row, act="values", actor=actor, at=now, before=before, after=after, why=reason)
    keep_deviations(target, accepted, usual, actor=actor, now=now, reason=reason)


def accepted_value(target: Target, key: str, said: Said) -> Said:
    if key not in {field.key for field in target.fields}:
        raise DoesNotApply(key)
    value = accept(BY_KEY[key], said.value)
    return Said(value, said.basis, said.typed)


def is_news(row: Any, key: str, said: Said) -> bool:
    """A value by method that somebody now says keeps its value and changes its basis."""
    if value_of(row, key) != said.value:
        return True
    basis: str = getattr(row, f"{key}_basis")
    return said.value is not None and basis != said.basis


def guard_version(row: Any, version: int | None, yours: Mapping[str, Said]) -> None:
    """Without values any change in between counts; with them only one that says something else."""
    if version is not None and row.version != version:
        if not yours:
            raise StaleSave(row, {}, {})
        theirs = {key: as_text(value_of(row, key)) for key in yours}
        mine = {key: as_text(said.value) for key, said in yours.items()}
        if theirs != mine:
            raise StaleSave(row, theirs, mine)


def save_next_version(row: Any, columns: list[str]) -> None:
    """Saves these columns and counts the version up; two at once cannot both win."""
    values = {column: getattr(row, column) for column in columns}
    rows = type(row).objects.filter(pk=row.pk, version=row.version)
    if not rows.update(**values, version=F("version") + 1):
        raise StaleSave(row, {}, {})
    row.version += 1


def keep_deviations(
    target: Target,
    said: Mapping[str, Said],
    usual: Mapping[str, Value],
    *,
    actor: Actor,
    now: datetime,
    reason: str,
) -> None:
    """One standing deviation for each field that differs, none for the others."""
    standing = {row.field: row for row in target.deviations}
    for key, one in said.items():
        old, actual = standing.get(key), as_text(one.value)
        wanted = differs(usual, key, one.value)
        if old and wanted and old.actual == actual and reason in ("", old.reason):
            continue
        if old:
            Deviation.objects.filter(pk=old.pk, undone_at__isnull=True).update(undone_at=now)
        if wanted:
            Deviation.objects.create(
                job=target.job,
                panel_work=target.panel_work,
                place=target.place,
                field=key,
                usual=as_text(compared_with(usual, key)),
                actual=actual,
                reason=reason or (old.reason if old else ""),
                member=actor.member,
                at=now,
            )


def fill_by_method(target: Target, usual: Mapping[str, Value], spoken: frozenset[str]) -> list[str]:
    """Sets every field the method names and nobody spoke of; returns the keys filled. Saves nothing.

    `spoken` are fields with a standing deviation: "not recorded" said outright is not filled in again.
    """
    row, filled = target.row, []
    for field in target.fields:
        value = usual.get(field.key)
        if value is not None and field.key not in spoken and value_of(row, field.key) is None:
            put(row, field.key, Said(value, Basis.BY_METHOD))
            filled.append(field.key)
    return filled


def clear_by_method(row: Any, of: tuple[TechniqueField, ...]) -> list[str]:
    """Takes back what only the method said; returns the keys. Saves nothing."""
    cleared = [field.key for field in of if getattr(row, f"{field.key}_basis") == Basis.BY_METHOD]
    for key in cleared:
        put(row, key, Said(None))
    return cleared


def set_own_field(*, target: Target, key: str, value: str, basis: str, actor: Actor, now: datetime) -> None:
    """The value of a shop-defined field; "" takes it away."""
    link = target.link
    old = FieldValue.objects.filter(field__key=key, **link).select_related("field").first()
    was = old.value if old else ""
    if was == value and (not old or old.basis == basis):
        return
    store_own_field(old, key, value, basis, link)
    record_change(row=target.row, act="own field", actor=actor, at=now, before={key: was}, after={key: value})


def store_own_field(old: FieldValue | None, key: str, value: str, basis: str, link: dict[str, Any]) -> None:
    if old and value:
        FieldValue.objects.filter(pk=old.pk).update(value=value, basis=basis)
    elif old:
        old.delete()
    elif value:
        FieldValue.objects.create(field=ShopField.objects.get(key=key), value=value, basis=basis, **link)
