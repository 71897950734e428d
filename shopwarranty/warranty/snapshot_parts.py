"""What a certificate says, frozen: enough to read, check and print it without asking the database again."""

from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any, Final

from shopwarranty.warranty.frozen_json import as_json, from_json, hash_of

FORMAT: Final = 1


@dataclass(frozen=True, slots=True)
class ShopShown:
    """The shop as it was called and reached on the day of issue."""

    name: str
    legal_name: str
    street: str
    town: str
    country: str
    telephone: str
    email: str
    time_zone: str
    units: str
    logo_sha256: str = ""

    @property
    def address(self) -> str:
        return ", ".join(part for part in (self.street, self.town, self.country) if part)

    @property
    def warrantor_name(self) -> str:
        return self.legal_name or self.name


@dataclass(frozen=True, slots=True)
class HolderShown:
    name: str
    address: str = ""
    is_consumer: bool = True


@dataclass(frozen=True, slots=True)
class VehicleShown:
    title: str
    year: int | None
    colour: str
    body_style: str
    body_name: str
    plate: str
    vin: str
    vin_kind: str

    @property
    def vin_end(self) -> str:
        return self.vin[-6:]


@dataclass(frozen=True, slots=True)
class Heated:
    """Edges, recesses and seams of a film piece: how many were post-heated, were not, or nobody said."""

    yes: int = 0
    no: int = 0
    not_recorded: int = 0

    @property
    def all(self) -> int:
        return self.yes + self.no + self.not_recorded

    def __add__(self, other: "Heated") -> "Heated":
        return Heated(self.yes + other.yes, self.no + other.no, self.not_recorded + other.not_recorded)


@dataclass(frozen=True, slots=True)
class PieceShown:
    """One piece of film. `letter` is its film's in the drawing, "" when the film is not recorded."""

    id: int
    number: int
    layer: int
    letter: str
    lot: str
    lot_unknown_reason: str
    roll: str
    supplied_by_owner: bool
    heated: Heated
    wrap_in_least_mm: float | None
    wrap_in_most_mm: float | None


@dataclass(frozen=True, slots=True)
class PanelShown:
    key: str
    name: str
    finished_on: date
    pieces: tuple[PieceShown, ...]
    differs: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class AddedPanelShown:
    """A panel of the shop's own, for the drawing's shelf."""

    key: str
    name: str
    edges: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class FilmShown:
    """`product_id` may be followed to the film; everything printed stands here."""

    letter: str
    product_id: int
    maker: str
    name: str
    finish: str
    family: str

    def __str__(self) -> str:
        return f"{self.maker} {self.name}".strip()


@dataclass(frozen=True, slots=True)
class PromiseShown:
    """One promise with one pair of dates. `panels` is empty when it covers every panel of the certificate."""

    line_id: int
    title: str
    kinds: tuple[str, ...]
    warrantor: str
    by_maker: bool
    makers_terms: str
    remedy: str
    term: str
    first_day: date
    last_day: date
    pieces: tuple[int, ...]
    panels: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class WarrantorShown:
    name: str
    address: str
    telephone: str = ""
    email: str = ""


@dataclass(frozen=True, slots=True)
class TermsShown:
    """The words of the plan version, as they stood."""

    plan: str
    version: int
    version_id: int
    is_full: bool
    exclusions: tuple[str, ...]
    duties: tuple[str, ...]
    aftercare: tuple[str, ...]
    claim_steps: tuple[str, ...]
    paid: str
    not_paid: str
    who_performs: str
    transfer: str
    transfer_words: str
    territory: str = ""
    dispute_procedure: str = ""
    limits_implied: bool = False
    limits_implied_words: str = ""
    excludes_consequential: bool = False
    excludes_consequential_words: str = ""
    claim_expense_words: str = ""
    relaid_words: str = ""


@dataclass(frozen=True, slots=True)
class StatementShown:
    """A text the tool inserted because a law asks for it."""

    identifier: str
    source: str
    words: str
    placement: str


@dataclass(frozen=True, slots=True)
class LegalShown:
    profile: str
    version: str
    title: str
    statements: tuple[StatementShown, ...]


@dataclass(frozen=True, slots=True)
class Earlier:
    """The edition that this one replaces."""

    number: str
    edition: int
    issued_on: date


@dataclass(frozen=True, slots=True)
class Snapshot:
    """A whole certificate. `code` opens its public page at `url`; "" in a preview."""

    number: str
    edition: int
    code: str
    url: str
    language: str
    issued_at: datetime
    issued_on: date
    handed_over_on: date
    starts_on: date
    last_day: date
    job_ref: str
    shop: ShopShown
    holder: HolderShown
    vehicle: VehicleShown
    films: tuple[FilmShown, ...]
    panels: tuple[PanelShown, ...]
    promises: tuple[PromiseShown, ...]
    warrantors: tuple[WarrantorShown, ...]
    terms: TermsShown
    legal: LegalShown
    method: str = ""
    replaces: Earlier | None = None
    quoted_months: int | None = None
    added_panels: tuple[AddedPanelShown, ...] = ()
    format: int = field(default=FORMAT)

    @property
    def heated(self) -> Heated:
        return sum((piece.heated for panel in self.panels for piece in panel.pieces), Heated())

    @property
    def differences(self) -> int:
        return sum(len(panel.differs) for panel in self.panels)

    def as_json(self) -> dict[str, Any]:
        return dict(as_json(self))

    @property
    def sha256(self) -> str:
        return hash_of(self.as_json())


def read_snapshot(stored: dict[str, Any]) -> Snapshot:
    """The snapshot as it was stored with the certificate."""
    return from_json(Snapshot, stored)
