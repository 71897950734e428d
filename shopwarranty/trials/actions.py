"""What changes a trial: set up, consented to, drawn, done, stopped, learnt from."""

from collections.abc import Iterable, Mapping
from copy import deepcopy
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Final

from django.db import transaction
from django.db.models import F, Max

from shopwarranty.analysis.trial_draw import job_gets_other, other_comes_first
from shopwarranty.analysis.trial_pooling import TrialFile, pool, read_file
from shopwarranty.analysis.trial_sequence import discordant_needed
from shopwarranty.jobs.actions import write_method_version
from shopwarranty.jobs.models import Job, Method, MethodVersion, Party, Vehicle
from shopwarranty.jobs.technique_rows import from_text
from shopwarranty.shops.history import Actor, move_state, next_number, record_change
from shopwarranty.trade.technique import Level

from .careful import plainly_less_careful
from .models import Consent, Draw, OtherFile, Trial, TrialState, TrialUnit
from .pairs import Offer, pairs_on
from .refusals import BurdensCustomer, NoPairHere, NotAHolder, NotRunning, SameArms, WrongUnit
from .technique import UNITS_OF, field_of, technique_of

LEARNT: Final = "learnt"


@dataclass(frozen=True, slots=True)
class Question:
    """The three questions answered. Values as `technique_rows.as_text` writes them."""

    words: str
    field: str
    usual_value: str
    other_value: str
    less_careful: bool
    unit: str
    place_kinds: tuple[str, ...]
    panels: tuple[str, ...]
    defect_kinds: tuple[str, ...]
    by_day: int
    ratio: float
    check_days: tuple[int, ...]


@transaction.atomic
def set_up_trial(
    *, question: Question, pairs_needed: int | None, size_words: str, seed: int, actor: Actor, now: datetime
) -> Trial:
    """Raises SameArms, WrongUnit. What is plainly less careful is marked so whatever was said."""
    assert actor.member is not None
    field = field_of(question.field)
    usual, other = from_text(field, question.usual_value), from_text(field, question.other_value)
    if usual == other:
        raise SameArms
    if question.unit not in UNITS_OF[field.level]:
        raise WrongUnit
    trial = Trial.objects.create(
        number=f"T{next_number('trial'):03d}",
        question=question.words,
        field=question.field,
        usual_value=question.usual_value,
        other_value=question.other_value,
        less_careful=question.less_careful or plainly_less_careful(field, usual, other),
        unit=question.unit,
        places=list(question.place_kinds),
        panels=list(question.panels),
        defect_kinds=list(question.defect_kinds),
        by_day=question.by_day,
        ratio_that_matters=question.ratio,
        most_counted=discordant_needed(question.ratio),
        units_needed=pairs_needed,
        size_words=size_words,
        check_days=list(question.check_days),
        seed=seed,
        state=TrialState.RUNNING,
        set_up_by=actor.member,
        set_up_at=now,
    )
    record_change(row=trial, act="trial set up", actor=actor, at=now, after={"question": question.words})
    return trial


@transaction.atomic
def record_consent(
    *, trial: Trial, vehicle: Vehicle, party: Party, words: str, actor: Actor, now: datetime
) -> Consent:
    """The present holder agrees, cover unreduced. Raises NotAHolder."""
    if not vehicle.holdings.filter(party=party, role="holder", until__isnull=True).exists():
        raise NotAHolder
    consent, made = Consent.objects.get_or_create(
        trial=trial,
        vehicle=vehicle,
        party=party,
        defaults={"words": words, "given_at": now, "member": actor.member},
    )
    if made:
        record_change(row=consent, act="consent recorded", actor=actor, at=now, after={"words": words})
    return consent


def burdened(trial: Trial, vehicles: Iterable[Vehicle]) -> set[int]:
    """Vehicles on whose holders an arm would fall without their consent; one query."""
    if not trial.less_careful:
        return set()
    customers = {vehicle.pk for vehicle in vehicles if vehicle.owned == Vehicle.Owned.CUSTOMER}
    agreed = Consent.objects.filter(
        trial=trial,
        vehicle__in=customers,
        withdrawn_at__isnull=True,
        vehicle__holdings__role="holder",
        vehicle__holdings__until__isnull=True,
        vehicle__holdings__party=F("party"),
    )
    return customers - set(agreed.values_list("vehicle_id", flat=True))


@transaction.atomic
def draw(*, trial: Trial, job: Job, actor: Actor, now: datetime) -> list[Draw]:
    """Every pair the job still offers, or the job itself. Raises NotRunning, BurdensCustomer, NoPairHere."""
    held = Trial.objects.select_for_update().get(pk=trial.pk)
    if held.state != TrialState.RUNNING:
        raise NotRunning
    if burdened(held, [job.vehicle]):
        raise BurdensCustomer
    pairs = pairs_on([job], held).get(job.pk, []) if job.state == Job.State.OPEN else []
    if not pairs:
        raise NoPairHere
    last = held.draws.aggregate(last=Max("pair"))["last"] or 0
    drawn = [
        row
        for number, offer in enumerate(pairs, start=last + 1)
        for row in _drawn(held, job, number, offer, actor, now)
    ]
    Draw.objects.bulk_create(drawn)
    record_change(
        row=held,
        act="drawn",
        actor=actor,
        at=now,
        after={"job": job.ref, "pairs": len(pairs), "from": last + 1},
    )
    return drawn


def _drawn(trial: Trial, job: Job, number: int, offer: Offer, actor: Actor, now: datetime) -> list[Draw]:
    return [
        Draw(
            trial=trial,
            pair=number,
            job=job,
            panel=half.panel,
            place_key=half.place_key,
            place=half.place,
            arm=arm,
            drawn_at=now,
            drawn_by=actor.member,
        )
        for half, arm in zip(offer, _arms(trial, number), strict=True)
    ]


def _arms(trial: Trial, number: int) -> tuple[str, ...]:
    """Of both halves of a pair, or of the one job."""
    other, usual = Draw.Arm.OTHER, Draw.Arm.USUAL
    if trial.unit == TrialUnit.JOBS:
        return (other if job_gets_other(trial.seed, number) else usual,)
    return (other, usual) if other_comes_first(trial.seed, number) else (usual, other)


def stop_trial(*, trial: Trial, state: str, why: str, actor: Actor, now: datetime) -> None:
    """Nothing more is drawn; what is laid is still watched. Raises StaleState."""
    move_state(trial, old=TrialState.RUNNING, new=state, actor=actor, at=now, why=why, stopped_why=why[:160])


@transaction.atomic
def add_other_file(
    *, trial: Trial, ours: TrialFile, content: bytes, actor: Actor, now: datetime
) -> OtherFile:
    """Raises trial_pooling.UnreadableFile, NotTheSameTrial."""
    theirs = read_file(content)
    kept = [read_file(file.content.encode()) for file in trial.other_files.all()]
    pool([ours, *kept, theirs])
    row: OtherFile = OtherFile.objects.create(
        trial=trial, key=theirs.key, content=content.decode(), added_at=now, member=actor.member
    )
    record_change(row=trial, act="file added", actor=actor, at=now, after={"key": theirs.key})
    return row


@transaction.atomic
def adopt(*, trial: Trial, method: Method, actor: Actor, now: datetime, note: str) -> MethodVersion:
    """What was learnt as the next version of a method, everything else as it was. Raises FaultyMethod."""
    last = method.versions.order_by("-number").first()
    values = changed(last.values if last else {}, trial)
    version = write_method_version(method=method, values=values, actor=actor, now=now, note=note)
    said = {"method": method.name, "number": version.number, "version": version.pk}
    record_change(row=trial, act=LEARNT, actor=actor, at=now, after=said)
    return version


def changed(values: Mapping[str, Any], trial: Trial) -> dict[str, Any]:
    """Where the trial was of some panels only, for those; a field of places for the kinds tried."""
    field = technique_of(trial)
    new, value = deepcopy(dict(values)), from_text(field, trial.other_value)
    if field.level is Level.JOB:
        new.setdefault("job", {})[field.key] = value
        return new
    parts = [new.setdefault("panels", {}).setdefault(panel, {}) for panel in trial.panels] or [new]
    for part in parts:
        for kind in ["panel"] if field.level is Level.PANEL else trial.places:
            part.setdefault(kind, {})[field.key] = value
    return new
