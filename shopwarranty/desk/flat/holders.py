"""Who held a vehicle, and whether two rows mean the same person."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from datetime import date
from typing import Final, NamedTuple

from shopwarranty.jobs.models import Holding, Party

from .records import JobValues
from .timeline import Stretch, Timeline


class HolderSaid(NamedTuple):
    """A holder as a row gives one: who says all the same is the same."""

    name: str
    kind: str
    consumer: bool
    email: str
    telephone: str
    address: str
    language: str

    @property
    def is_telling(self) -> bool:
        """Whether it can be told from another of the same name."""
        return bool(self.email or self.telephone)


CELLS: Final = {
    "holder": "name",
    "holder_kind": "kind",
    "holder_consumer": "consumer",
    "holder_email": "email",
    "holder_telephone": "telephone",
    "holder_address": "address",
    "holder_language": "language",
}
PARTY: Final = ("name", "kind", "is_consumer", "email", "telephone", "address", "language")


@dataclass(slots=True)
class PartyBook:
    """Parties of the shop that mail or telephone tell from others of the same name."""

    pks: dict[HolderSaid, int] = field(default_factory=dict)
    asked: set[str] = field(default_factory=set)

    def prepare(self, values: Iterable[JobValues]) -> None:
        """Reads the parties of these names that can be told apart."""
        names = {one.holder for one in values if one.holder} - self.asked
        self.asked |= names
        rows = Party.objects.filter(name__in=names, restricted_at__isnull=True).order_by("-pk")
        for pk, *said in rows.values_list("pk", *PARTY):
            holder = stripped(said)
            if holder.is_telling:
                self.pks[holder] = pk

    def pk_of(self, holder: HolderSaid, holders: Timeline[HolderSaid]) -> int:
        """The party of somebody who holds a vehicle; 0 for one who is not written yet."""
        of_vehicle = (one.party for one in holders.stretches if one.party and one.item == holder)
        return next(of_vehicle, 0) or self.pks.get(holder, 0)

    def remember(self, holder: HolderSaid, pk: int) -> None:
        if holder.is_telling:
            self.pks[holder] = pk


def stripped(said: Iterable[object]) -> HolderSaid:
    return HolderSaid(*(one.strip() if isinstance(one, str) else one for one in said))  # type: ignore[arg-type]


def holders_of(vehicles: Iterable[int]) -> Iterator[tuple[int, Stretch[HolderSaid]]]:
    """The holders of these vehicles, by vehicle, in the order they came."""
    rows = Holding.objects.filter(vehicle__in=list(vehicles), role=Holding.Role.HOLDER).order_by(
        "since", "pk"
    )
    names = [f"party__{name}" for name in PARTY]
    held = rows.values_list("vehicle_id", "pk", "since", "until", "party_id", *names)
    for vehicle_id, pk, since, until, party, *said in held:
        yield vehicle_id, Stretch(since, stripped(said), pk, until, party)


def put_holder(holders: Timeline[HolderSaid], values: JobValues, day: date) -> JobValues:
    """Enters the row's holder; the row is completed where it means one who is known already."""
    meant = holders.at(day)
    if values.holder and (values.holder_since or meant is None or not fits(values, meant)):
        meant = said_by(values)
        holders.put(meant, day, values.holder_since)
    return values if meant is None else with_holder(values, meant)


def fits(values: JobValues, holder: HolderSaid) -> bool:
    """Whether everything the row says is true of that holder."""
    said = ((getattr(values, cell), getattr(holder, name)) for cell, name in CELLS.items())
    return all(cell in (None, "") or cell == known for cell, known in said)


def said_by(values: JobValues) -> HolderSaid:
    consumer = True if values.holder_consumer is None else values.holder_consumer
    return HolderSaid(
        values.holder,
        values.holder_kind or "person",
        consumer,
        values.holder_email,
        values.holder_telephone,
        values.holder_address,
        values.holder_language,
    )


def with_holder(values: JobValues, holder: HolderSaid) -> JobValues:
    said = {cell: getattr(holder, name) for cell, name in CELLS.items()}
    return values._replace(**said)
