"""What changes a trial: set up, consented to, drawn, done, stopped, learnt from."""

from collections.abc import Iterable, Mapping
from copy import deepcopy
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db import transaction
from django.db.models import F, Max

from shopwarranty.analysis.trial_draw import other_comes_first
from shopwarranty.analysis.trial_pooling import TrialFile, pool, read_file
from shopwarranty.analysis.trial_sequence import discordant_needed
from shopwarranty.jobs.actions import record_deviation, set_place_values, write_method_version
from shopwarranty.jobs.models import Job, Method, MethodVersion, Party, Vehicle
from shopwarranty.jobs.technique_rows import Said, from_text
from shopwarranty.shops.history import Actor, move_state, next_number, record_change
from shopwarranty.trade.technique import BY_KEY

from .careful import plainly_less_careful
from .models import Consent, Draw, OtherFile, Trial, TrialState
from .pairs import Pair, pairs_on
from .refusals import AlreadySaid, BurdensCustomer, NoPairHere, NotAHolder, NotRunning, SameArms

REASON = "trial"


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
    """Raises SameArms. What is plainly less careful is marked so whatever was said."""
    assert actor.member is not None
    field = BY_KEY[question.field]
    usual, other = from_text(field, question.usual_value), from_text(field, question.other_value)
    if usual == other:
        raise SameArms
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
    """Every pair the job still offers. Raises NotRunning, BurdensCustomer, NoPairHere."""
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
        for number, pair in enumerate(pairs, start=last + 1)
        for row in _halves(held, job, number, pair, actor, now)
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


def _halves(trial: Trial, job: Job, number: int, pair: Pair, actor: Actor, now: datetime) -> list[Draw]:
    first_other = other_comes_first(trial.seed, number)
    arms = (Draw.Arm.OTHER, Draw.Arm.USUAL) if first_other else (Draw.Arm.USUAL, Draw.Arm.OTHER)
    return [
        Draw(
            trial=trial,
            pair=number,
            job=job,
            panel=place.piece.panel_work.panel,
            place_key=place.key,
            place=place,
            arm=arm,
            drawn_at=now,
            drawn_by=actor.member,
        )
        for place, arm in zip(pair, arms, strict=True)
    ]


def value_of_arm(draw: Draw) -> str:
    return draw.trial.other_value if draw.arm == Draw.Arm.OTHER else draw.trial.usual_value


@transaction.atomic
def say_done_as_drawn(*, draw: Draw, actor: Actor, now: datetime) -> None:
    """Also states the value at the place, so that the record and the draw agree. Raises AlreadySaid."""
    held = _unsaid(draw)
    assert held.place is not None
    value = from_text(BY_KEY[held.trial.field], value_of_arm(held))
    set_place_values(
        place=held.place, values={held.trial.field: Said(value)}, reason=REASON, actor=actor, now=now
    )
    _said(held, Draw.DoneAs.DRAWN, "", actor, now)


@transaction.atomic
def say_done_otherwise(*, draw: Draw, why: str, actor: Actor, now: datetime) -> None:
    """The other arm's way was used, or none could be. Raises AlreadySaid."""
    held = _unsaid(draw)
    assert held.place is not None
    value = held.trial.usual_value if held.arm == Draw.Arm.OTHER else held.trial.other_value
    done = from_text(BY_KEY[held.trial.field], value)
    record_deviation(
        place=held.place, field=held.trial.field, actual=done, reason=REASON, actor=actor, now=now
    )
    _said(held, Draw.DoneAs.OTHER, why, actor, now)


def _unsaid(draw: Draw) -> Draw:
    held: Draw = Draw.objects.select_for_update(of=("self",)).select_related("trial", "place").get(pk=draw.pk)
    if held.done_as:
        raise AlreadySaid
    return held


def _said(held: Draw, done_as: str, why: str, actor: Actor, now: datetime) -> None:
    Draw.objects.filter(pk=held.pk).update(done_as=done_as, done_why=why, done_at=now)
    record_change(row=held, act="done", actor=actor, at=now, after={"done_as": done_as}, why=why)


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


def adopt(*, trial: Trial, method: Method, actor: Actor, now: datetime, note: str) -> MethodVersion:
    """What was learnt as the next version of a method, everything else as it was. Raises FaultyMethod."""
    last = method.versions.order_by("-number").first()
    values = changed(last.values if last else {}, trial)
    return write_method_version(method=method, values=values, actor=actor, now=now, note=note)


def changed(values: Mapping[str, Any], trial: Trial) -> dict[str, Any]:
    """For the kinds of place tried; where the trial was of some panels only, for those."""
    new, value = deepcopy(dict(values)), from_text(BY_KEY[trial.field], trial.other_value)
    parts = [new.setdefault("panels", {}).setdefault(panel, {}) for panel in trial.panels] or [new]
    for part in parts:
        for kind in trial.places:
            part.setdefault(kind, {})[trial.field] = value
    return new
