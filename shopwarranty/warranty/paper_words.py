"""A snapshot as the lines that stand on paper, in the certificate's language and units."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from shopwarranty.web.formats import full_date, short_length
from shopwarranty.web.trade_names import first_upper

from .cover import parse_term
from .legal_texts import Placement
from .public_code import spoken
from .snapshot_parts import FilmShown, Heated, PanelShown, PieceShown, PromiseShown, Snapshot

MOST_NAMES = 9


@dataclass(frozen=True, slots=True)
class Fact:
    """One line of the first page: what it is, the main words, and what stands small below."""

    name: str
    words: str
    small: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class WorkRow:
    """One film piece in the table of what was done; `panel` is empty below the first piece of a panel."""

    panel: str
    film: str
    lot: str
    heated: str
    wrap_in: str
    differs: str


@dataclass(frozen=True, slots=True)
class CoverRow:
    what: str
    kinds: str
    panels: str
    until: str
    since: str
    term: str
    who: str
    makers_terms: str
    remedy: str


@dataclass(frozen=True, slots=True)
class Limit:
    """A limit the plan sets, and the statement the law wants beside it."""

    words: str
    statement: str


def facts(snapshot: Snapshot) -> Iterator[Fact]:
    shop, vehicle, day = snapshot.shop, snapshot.vehicle, full_date
    number = snapshot.number
    if snapshot.edition > 1:
        number = _("%(number)s, edition %(edition)s") % {"number": number, "edition": snapshot.edition}
    yield Fact(_("Certificate"), number)
    yield Fact(_("Issued"), day(snapshot.issued_on, shop))
    about = ", ".join(str(part) for part in (vehicle.title, vehicle.year, vehicle.colour) if part)
    yield Fact(_("Vehicle"), about, tuple(vehicle_lines(snapshot)))
    yield Fact(_("Holder"), snapshot.holder.name, lines_of(snapshot.holder.address))
    handed = _("Cover counts from this day.") if snapshot.starts_on == snapshot.handed_over_on else ""
    yield Fact(_("Handed over"), day(snapshot.handed_over_on, shop), lines_of(handed))
    for film in snapshot.films:
        name = _("Film %(letter)s") % {"letter": film.letter}
        words = ", ".join(part for part in (str(film), film.finish) if part)
        yield Fact(name, words, tuple(batches(snapshot, film)))
    unnamed = [panel for panel in snapshot.panels if any(not piece.letter for piece in panel.pieces)]
    if unnamed:
        yield Fact(_("Film"), _("Not recorded"), (names(panel.name for panel in unnamed),))
    yield work_fact(snapshot)


def vehicle_lines(snapshot: Snapshot) -> Iterator[str]:
    vehicle = snapshot.vehicle
    if vehicle.plate:
        yield _("Plate %(plate)s") % {"plate": vehicle.plate}
    if vehicle.vin_kind == "vin":
        yield _("VIN %(vin)s") % {"vin": vehicle.vin}
    elif vehicle.vin:
        yield _("Chassis number %(number)s") % {"number": vehicle.vin}
    elif vehicle.vin_kind == "none":
        yield _("Has no VIN")


def lines_of(text: str) -> tuple[str, ...]:
    return tuple(line.strip() for line in text.splitlines() if line.strip())


def batches(snapshot: Snapshot, film: FilmShown) -> Iterator[str]:
    """Lot and roll with the panels they lie on; an unknown lot is said to be unknown."""
    found: dict[tuple[str, str, bool], list[str]] = {}
    for panel in snapshot.panels:
        for piece in panel.pieces:
            if piece.letter == film.letter:
                key = (lot_words(piece), piece.roll, piece.supplied_by_owner)
                found.setdefault(key, []).append(panel.name)
    for (lot, roll, by_owner), panels in found.items():
        batch = f"{lot}, {_('roll %(roll)s') % {'roll': roll}}" if roll else lot
        batch += f", {_('brought by the owner')}" if by_owner else ""
        yield first_upper(f"{batch}: {names(panels)}")


def lot_words(piece: PieceShown) -> str:
    if piece.lot:
        return _("lot %(lot)s") % {"lot": piece.lot}
    return _("lot unknown") if piece.lot_unknown_reason else _("lot not recorded")


def names(of: Iterable[str]) -> str:
    """Panel names in a row; many are counted, since the table names them all."""
    each = list(dict.fromkeys(of))
    if len(each) <= MOST_NAMES:
        return ", ".join(each)
    return ngettext("%(n)s panel, listed further on", "%(n)s panels, listed further on", len(each)) % {
        "n": len(each)
    }


def work_fact(snapshot: Snapshot) -> Fact:
    heated, differ = snapshot.heated, snapshot.differences
    counted = ngettext("%(n)s edge and recess", "%(n)s edges and recesses", heated.all) % {"n": heated.all}
    said = [f"{counted}, {heated_words(heated)}."]
    if differ:
        said.append(
            ngettext(
                "One thing differs from the shop's usual way, see further on.",
                "%(n)s things differ from the shop's usual way, see further on.",
                differ,
            )
            % {"n": differ}
        )
    method = snapshot.method or _("no method recorded")
    return Fact(_("Done by"), method, (" ".join(said),))


def heated_words(heated: Heated) -> str:
    parts = [_("%(n)s post-heated") % {"n": heated.yes}] if heated.yes or heated.no else []
    if heated.not_recorded:
        parts.append(_("%(n)s not recorded") % {"n": heated.not_recorded})
    return ", ".join(parts) or _("not recorded")


def cover_rows(snapshot: Snapshot) -> Iterator[CoverRow]:
    shop = snapshot.shop
    for promise in snapshot.promises:
        since = "" if promise.first_day == snapshot.handed_over_on else full_date(promise.first_day, shop)
        yield CoverRow(
            what=promise.title,
            kinds=", ".join(promise.kinds),
            panels=names(promise.panels),
            until=full_date(promise.last_day, shop),
            since=_("from %(day)s") % {"day": since} if since else "",
            term=parse_term(promise.term).words(ngettext),
            who=promise.warrantor,
            makers_terms=terms_words(promise),
            remedy=promise.remedy,
        )


def terms_words(promise: PromiseShown) -> str:
    if not promise.by_maker:
        return ""
    return (
        _("Maker of the film. %(terms)s") % {"terms": promise.makers_terms}
        if promise.makers_terms
        else _("Maker of the film")
    )


def work_rows(snapshot: Snapshot) -> Iterator[WorkRow]:
    for panel in snapshot.panels:
        for nth, piece in enumerate(panel.pieces):
            yield WorkRow(
                panel=first_upper(panel.name) if nth == 0 else "",
                film=piece.letter or "–",
                lot=lot_and_roll(piece),
                heated=share_words(piece.heated),
                wrap_in=wrap_in_words(piece, snapshot),
                differs=differs_words(panel) if nth == 0 else "",
            )


def differs_words(panel: PanelShown) -> str:
    return ". ".join(first_upper(phrase) for phrase in panel.differs)


def lot_and_roll(piece: PieceShown) -> str:
    lot = piece.lot or (_("unknown") if piece.lot_unknown_reason else _("not recorded"))
    return f"{lot}, {piece.roll}" if piece.roll else lot


def share_words(heated: Heated) -> str:
    if not heated.yes and not heated.no:
        return _("Not recorded")
    words = _("%(n)s of %(all)s") % {"n": heated.yes, "all": heated.all}
    if heated.not_recorded:
        words += " " + _("(%(n)s not recorded)") % {"n": heated.not_recorded}
    return words


def wrap_in_words(piece: PieceShown, snapshot: Snapshot) -> str:
    least, most = piece.wrap_in_least_mm, piece.wrap_in_most_mm
    if least is None or most is None:
        return _("Not recorded")
    low, high = short_length(least, snapshot.shop), short_length(most, snapshot.shop)
    return str(high) if low == high else f"{low.number}–{high}"


def limits(snapshot: Snapshot) -> Iterator[Limit]:
    """What stands on the first page because it takes something away: the limit, then its statement."""
    terms = snapshot.terms
    said = {statement.identifier: statement.words for statement in snapshot.legal.statements}
    if terms.limits_implied and terms.limits_implied_words:
        yield Limit(terms.limits_implied_words, said.get("US-07", ""))
    if terms.excludes_consequential and terms.excludes_consequential_words:
        yield Limit(terms.excludes_consequential_words, said.get("US-08", ""))


def rights(snapshot: Snapshot) -> tuple[str, ...]:
    """The statements that do not stand beside a limit."""
    beside = {limit.statement for limit in limits(snapshot)}
    statements = snapshot.legal.statements
    face = str(Placement.FACE)
    return tuple(s.words for s in statements if s.words not in beside and s.placement != face)


def foot(snapshot: Snapshot) -> str:
    """What every page repeats: number, edition, and the vehicle it belongs to."""
    said = [snapshot.number]
    if snapshot.edition > 1:
        said.append(_("edition %(edition)s") % {"edition": snapshot.edition})
    if snapshot.vehicle.vin:
        said.append(_("VIN ends %(end)s") % {"end": snapshot.vehicle.vin_end})
    return ", ".join(said)


def code_words(snapshot: Snapshot) -> str:
    return spoken(snapshot.code)
