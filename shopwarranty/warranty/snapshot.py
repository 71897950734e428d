"""Building a certificate's snapshot from the job's record, the plan's words and the legal profile's texts."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date, datetime
from itertools import groupby

from django.utils.translation import gettext as _

from shopwarranty.films.models import FilmProduct, MakerTerms
from shopwarranty.jobs.record_parts import FilmRecord, JobRecord, PanelRecord, PieceRecord, PlaceRecord
from shopwarranty.jobs.shop_catalogue import ShopCatalogue
from shopwarranty.jobs.technique_rows import REACHED
from shopwarranty.shops.models import Shop
from shopwarranty.trade.defects import UnknownDefectKind, kind
from shopwarranty.trade.panels import PlaceKind
from shopwarranty.warranty.certificate_text import TransferPolicy
from shopwarranty.warranty.cover import ReplacementCover
from shopwarranty.warranty.legal.profile import LegalProfile
from shopwarranty.warranty.legal_texts import RELAID_WORDS, TRANSFER_WORDS
from shopwarranty.web.formats import full_date
from shopwarranty.web.trade_names import trade_name
from shopwarranty.web.vehicle import film_letter

from . import snapshot_parts as parts
from .certificate_checks import with_legal_texts
from .deviation_words import differences
from .models import CoverLine, PlanVersion
from .promises import NOTHING_EARLIER, Earlier, PieceCover, covers, term_of
from .snapshot_parts import Snapshot

LINES = (PlaceKind.EDGE, PlaceKind.RECESS, PlaceKind.SEAM)


class NothingToCertify(Exception):
    """No panel is finished, or the plan promises nothing for the film on it."""


class NoHolder(Exception):
    """Nobody is recorded whom the promise is made to."""


@dataclass(frozen=True, slots=True)
class Terms:
    """What is decided at issue, beside the record: number, dates, plan, language, legal profile.

    `starts_on` is the first covered day of whatever no earlier edition covered.
    """

    number: str
    code: str
    url: str
    plan_version: PlanVersion
    profile: LegalProfile
    language: str
    issued_at: datetime
    handed_over_on: date
    starts_on: date
    edition: int = 1
    replaces: parts.Earlier | None = None
    earlier: Earlier = NOTHING_EARLIER


@dataclass(frozen=True, slots=True)
class Built:
    """The snapshot and the covers it was made of, by film piece."""

    snapshot: Snapshot
    covers: tuple[PieceCover, ...]


@dataclass(frozen=True, slots=True)
class Maker:
    """A film maker as a warrantor: its address, and its own terms in force on the day."""

    name: str
    address: str
    terms: str


def build_snapshot(record: JobRecord, shop: Shop, terms: Terms) -> Built:
    """Only finished panels are on it. Enter the certificate's language first; the record must be in it too.

    Raises NoHolder or NothingToCertify.
    """
    if record.holder is None:
        raise NoHolder
    panels = standing(record)
    lines = list(terms.plan_version.lines.all())
    relaid = ReplacementCover(terms.plan_version.relaid)
    found = covers(panels, lines, terms.starts_on, terms.earlier, relaid)
    if not found:
        raise NothingToCertify
    films = {film: film_letter(nth) for nth, film in enumerate(films_of(panels))}
    makers = makers_of(films, terms.handed_over_on, shop)
    promises = tuple(promises_of(found, panels, shop, makers))
    shown = shop_shown(shop)
    bare = Snapshot(
        number=terms.number,
        edition=terms.edition,
        code=terms.code,
        url=terms.url,
        language=terms.language,
        issued_at=terms.issued_at,
        issued_on=terms.issued_at.astimezone(shop.zone).date(),
        handed_over_on=terms.handed_over_on,
        starts_on=min(cover.dates.first_day for cover in found),
        last_day=max(promise.last_day for promise in promises),
        job_ref=record.ref,
        shop=shown,
        holder=parts.HolderShown(record.holder.name, record.holder.address, record.holder.is_consumer),
        vehicle=vehicle_shown(record),
        films=tuple(film_shown(film, letter) for film, letter in films.items()),
        panels=tuple(panel_shown(panel, films, shown) for panel in panels),
        promises=promises,
        warrantors=warrantors_of(promises, shown, makers.values()),
        terms=terms_shown(terms.plan_version, shown),
        legal=parts.LegalShown("", "", "", ()),
        method=method_words(record),
        replaces=terms.replaces,
        quoted_months=record.quoted_months,
        added_panels=tuple(added_panels(shop, record)),
    )
    return Built(with_legal_texts(bare, terms.profile), found)


def standing(record: JobRecord) -> tuple[PanelRecord, ...]:
    """Finished panels that still carry film of this job."""
    return tuple(
        panel for panel in record.finished_panels if panel.removed_on is None and panel.standing_pieces
    )


def films_of(panels: Iterable[PanelRecord]) -> tuple[FilmRecord, ...]:
    """Each film once, in walking order, so that letters follow the drawing."""
    pieces = (piece for panel in panels for piece in panel.standing_pieces)
    return tuple(dict.fromkeys(piece.film for piece in pieces if piece.film))


def shop_shown(shop: Shop) -> parts.ShopShown:
    return parts.ShopShown(
        name=shop.name,
        legal_name=shop.legal_name,
        street=shop.street,
        town=shop.town,
        country=shop.country,
        telephone=shop.telephone,
        email=shop.email,
        time_zone=shop.time_zone,
        units=shop.units,
        logo_sha256=shop.logo_sha256,
    )


def method_words(record: JobRecord) -> str:
    if record.method is None:
        return ""
    return _("%(name)s, version %(number)s") % {"name": record.method.name, "number": record.method.number}


def vehicle_shown(record: JobRecord) -> parts.VehicleShown:
    of = record.vehicle
    return parts.VehicleShown(
        of.title, of.year, of.colour, of.body_style, of.body_name, record.plate, of.vin, of.vin_kind
    )


def film_shown(film: FilmRecord, letter: str) -> parts.FilmShown:
    return parts.FilmShown(letter, film.id, film.maker, film.name, film.finish, film.family)


def panel_shown(panel: PanelRecord, films: dict[FilmRecord, str], shop: parts.ShopShown) -> parts.PanelShown:
    assert panel.finished_on is not None
    pieces = tuple(piece_shown(piece, films) for piece in panel.standing_pieces)
    return parts.PanelShown(panel.key, panel.name, panel.finished_on, pieces, differences(panel, shop))


def piece_shown(piece: PieceRecord, films: dict[FilmRecord, str]) -> parts.PieceShown:
    lines = [place for place in piece.places if place.kind in LINES]
    reached = [float(value) for place in lines if isinstance(value := place.value(REACHED), int | float)]
    return parts.PieceShown(
        id=piece.id,
        number=piece.number,
        layer=piece.layer,
        letter=films[piece.film] if piece.film else "",
        lot=piece.lot,
        lot_unknown_reason=piece.lot_unknown_reason,
        roll=piece.roll,
        supplied_by_owner=piece.supplied_by_owner,
        heated=heated(lines),
        wrap_in_least_mm=min(reached, default=None),
        wrap_in_most_mm=max(reached, default=None),
    )


def heated(places: Iterable[PlaceRecord]) -> parts.Heated:
    said = [place.value("post_heated") for place in places]
    return parts.Heated(said.count(True), said.count(False), said.count(None))


def added_panels(shop: Shop, record: JobRecord) -> Iterator[parts.AddedPanelShown]:
    """Of the shop's own panels, those on this certificate: the drawing needs to know their edges."""
    used = {panel.key for panel in standing(record)}
    for added in ShopCatalogue(shop).added_panels(record.vehicle.body_style):
        if added.key in used:
            yield parts.AddedPanelShown(added.key, added.name, tuple(edge.name for edge in added.edges))


def makers_of(films: Iterable[FilmRecord], on: date, shop: Shop) -> dict[int, Maker]:
    """By product: whoever makes it, and the latest of its own terms dated no later than that day."""
    ids = [film.id for film in films]
    products = FilmProduct.objects.filter(pk__in=ids)
    rows = MakerTerms.objects.filter(product__in=ids, dated__lte=on).order_by("dated")
    latest = {row.product_id: row for row in rows}
    return {
        row.pk: Maker(row.maker, row.maker_address, words_of(latest.get(row.pk), shop)) for row in products
    }


def words_of(terms: MakerTerms | None, shop: Shop) -> str:
    if terms is None:
        return ""
    return _("%(title)s of %(day)s") % {"title": terms.title, "day": full_date(terms.dated, shop)}


def promises_of(
    found: Iterable[PieceCover], panels: tuple[PanelRecord, ...], shop: Shop, makers: dict[int, Maker]
) -> Iterator[parts.PromiseShown]:
    """Covers of one line, warrantor and pair of dates make one printed promise."""
    by_maker = CoverLine.Warrantor.MAKER

    def maker(cover: PieceCover) -> Maker | None:
        return makers[cover.piece.film.id] if cover.line.warrantor == by_maker and cover.piece.film else None

    def together(cover: PieceCover) -> tuple[int, int, str, str, date, date]:
        of, dates = maker(cover), cover.dates
        name, own = (of.name, of.terms) if of else ("", "")
        return (cover.line.position, cover.line.pk, name, own, dates.first_day, cover.last_day)

    for __, group in groupby(sorted(found, key=together), key=together):
        same = list(group)
        yield promise_shown(same, panels, shop, maker(same[0]))


def promise_shown(
    same: list[PieceCover], panels: tuple[PanelRecord, ...], shop: Shop, maker: Maker | None
) -> parts.PromiseShown:
    line, dates = same[0].line, same[0].dates
    covered = {cover.piece.id for cover in same}
    everything = {piece.id for panel in panels for piece in panel.standing_pieces}
    names = tuple(dict.fromkeys(cover.panel.name for cover in same)) if covered != everything else ()
    return parts.PromiseShown(
        line_id=line.pk,
        title=line.title,
        kinds=tuple(kind_words(key, shop) for key in line.defect_kinds),
        warrantor=maker.name if maker else shop.legal_name or shop.name,
        by_maker=maker is not None,
        makers_terms=maker.terms if maker else "",
        remedy=line.remedy,
        term=term_of(line).iso,
        first_day=dates.first_day,
        last_day=same[0].last_day,
        pieces=tuple(sorted(covered)),
        panels=names,
    )


def kind_words(key: str, shop: Shop) -> str:
    try:
        return trade_name(kind(key), shop)
    except UnknownDefectKind:
        return key


def warrantors_of(
    promises: Iterable[parts.PromiseShown], shop: parts.ShopShown, makers: Iterable[Maker]
) -> tuple[parts.WarrantorShown, ...]:
    """The shop, which claims go to, and every film maker that promises something itself."""
    promising = {promise.warrantor for promise in promises if promise.by_maker}
    named = {maker.name: maker.address for maker in makers if maker.name in promising}
    first = parts.WarrantorShown(shop.warrantor_name, shop.address, shop.telephone, shop.email)
    return (first, *(parts.WarrantorShown(name, address) for name, address in named.items()))


def terms_shown(version: PlanVersion, shop: parts.ShopShown) -> parts.TermsShown:
    return parts.TermsShown(
        plan=version.plan.name,
        version=version.number,
        version_id=version.pk,
        is_full=version.is_full,
        exclusions=tuple(version.exclusions),
        duties=tuple(version.duties),
        aftercare=tuple(version.aftercare),
        claim_steps=tuple(version.claim_steps),
        paid=version.paid,
        not_paid=version.not_paid,
        who_performs=_("%(shop)s does the work, or names a shop that does it.")
        % {"shop": shop.warrantor_name},
        transfer=version.transfer,
        transfer_words=version.transfer_words or TRANSFER_WORDS[TransferPolicy(version.transfer)].render(_),
        territory=version.territory,
        relaid_words=RELAID_WORDS[version.relaid].render(_),
        dispute_procedure=version.dispute_procedure,
        limits_implied=version.limits_implied,
        limits_implied_words=version.limits_implied_words,
        excludes_consequential=version.excludes_consequential,
        excludes_consequential_words=version.excludes_consequential_words,
        claim_expense_words=version.claim_expense_words,
    )
