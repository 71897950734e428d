"""What a certificate says, as frozen values: the shape the legal checks read. None means "not recorded"."""

from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum

from shopwarranty.warranty.cover import Term


class TransferPolicy(StrEnum):
    NONE = "none"
    ONCE = "once_with_notice"
    FREE = "free"


class StartEvent(StrEnum):
    HANDOVER = "handover"
    COMPLETION = "completion"
    PURCHASE = "purchase"


class Registration(StrEnum):
    """Whether the owner is asked to register, and whether cover hangs on it."""

    NOT_OFFERED = "not_offered"
    IS_NOT = "is_not"
    IS = "is"


class Supply(StrEnum):
    GOODS = "goods"
    SERVICES = "services"
    BOTH = "goods_and_services"


class ExpenseBearer(StrEnum):
    WARRANTOR = "warrantor"
    CONSUMER = "consumer"


@dataclass(frozen=True, slots=True)
class Warrantor:
    """Who promises: the shop for its work, a film maker for its film."""

    name: str
    address: str = ""
    telephone: str = ""
    email: str = ""


@dataclass(frozen=True, slots=True)
class PromiseLine:
    """One promise. `makers_terms` names a film maker's own terms and their date when the maker promises."""

    what: str
    warrantor: str
    remedy: str
    first_day: date | None = None
    last_day: date | None = None
    term: Term | None = None
    by_maker: bool = False
    makers_terms: str = ""


@dataclass(frozen=True, slots=True)
class DisputeProcedure:
    """An informal way to settle disputes, when one is offered."""

    words: str
    name: str = ""
    address: str = ""
    free_telephone: str = ""
    must_come_first: bool | None = None
    meets_part_703: bool | None = None


@dataclass(frozen=True, slots=True)
class CertificateText:
    """Everything the checks look at, as printed; `rights` holds every rights statement.

    `exclusions` None is "not recorded"; an empty tuple is the statement that nothing is excluded.
    `brands` are names (films, care products, firms) a tie-in could hang on. `confirmed` holds the identifiers
    of items a person looked at and confirmed. Moments are aware; `inclusive`: does the end day count?
    """

    title: str = ""
    language: str = "en"
    profile_version: str = ""
    issued_on: date | None = None
    consumer: bool | None = None
    holder: str = ""
    vehicle: str = ""
    transfer_policy: TransferPolicy | None = None
    transfer_words: str = ""
    products: tuple[str, ...] = ()
    panels: tuple[str, ...] = ()
    lines: tuple[PromiseLine, ...] = ()
    exclusions: tuple[str, ...] | None = None
    duties: tuple[str, ...] = ()
    paid: str = ""
    not_paid: str = ""
    start_event: StartEvent | None = None
    inclusive: bool = True
    claim_steps: tuple[str, ...] = ()
    claim_address: str = ""
    who_performs: str = ""
    warrantors: tuple[Warrantor, ...] = ()
    dispute: DisputeProcedure | None = None
    limits_implied: bool = False
    limits_implied_words: str = ""
    excludes_consequential: bool = False
    excludes_consequential_words: str = ""
    rights: tuple[str, ...] = ()
    registration: Registration | None = None
    territory: str = ""
    supply: Supply | None = None
    claim_expense: ExpenseBearer | None = None
    claim_expense_words: str = ""
    extra_charge: bool | None = None
    pro_rated: bool = False
    check_is_condition: bool = False
    quoted_term: Term | None = None
    terms_shown_at: datetime | None = None
    sent_at: datetime | None = None
    handover_at: datetime | None = None
    copy_asked_at: datetime | None = None
    copy_given_at: datetime | None = None
    brands: tuple[str, ...] = ()
    confirmed: frozenset[str] = frozenset()

    @property
    def is_full(self) -> bool:
        return self.title.strip().upper().startswith("FULL")

    @property
    def is_english(self) -> bool:
        return self.language.lower().split("-")[0] == "en"

    @property
    def shop_words(self) -> tuple[str, ...]:
        """Every text the shop wrote itself: what the checks for words that must not be said read."""
        promised = tuple(part for line in self.lines for part in (line.what, line.remedy))
        single = (
            self.transfer_words, self.paid, self.not_paid, self.who_performs, self.territory,
            self.limits_implied_words, self.excludes_consequential_words, self.claim_expense_words,
            self.dispute.words if self.dispute else "",
        )  # fmt: skip
        listed = (*(self.exclusions or ()), *self.duties, *self.claim_steps, *self.rights)
        return tuple(words for words in (*promised, *single, *listed) if words.strip())
