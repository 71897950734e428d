"""A certificate of an invented vehicle: a plan's words seen and checked before they promise anything."""

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from django.utils.translation import gettext as _

from shopwarranty.shops.models import Shop
from shopwarranty.trade import catalogue
from shopwarranty.warranty.cover import add_term
from shopwarranty.web.trade_names import trade_name

from . import snapshot_parts as parts
from .certificate_checks import with_legal_texts
from .legal.profile import profile_of
from .models import CoverLine, PlanVersion
from .promises import term_of
from .snapshot import kind_words, shop_shown, terms_shown
from .snapshot_parts import Snapshot

BODY = "saloon"
PANELS = ("bonnet", "left-wing", "right-wing", "left-front-door")
SPECIMEN_VIN = "0DEMXWRA1TF000123"


def specimen(version: PlanVersion, lines: Sequence[CoverLine], shop: Shop, now: datetime) -> Snapshot:
    """`version` and `lines` may be unsaved. Where the shop's own address is missing, a placeholder stands."""
    shown = shop_shown(shop)
    today = now.astimezone(shop.zone).date()
    warrantor = parts.WarrantorShown(
        shown.warrantor_name, shown.address or _("address of the shop"), shown.telephone, shown.email
    )
    promises = tuple(promise(line, shop, today) for line in lines)
    makers = {given.warrantor for given in promises if given.by_maker}
    bare = Snapshot(
        number=_("specimen"),
        edition=1,
        code="",
        url="",
        language=version.language,
        issued_at=now,
        issued_on=today,
        handed_over_on=today,
        starts_on=today,
        last_day=max((given.last_day for given in promises), default=today),
        job_ref="",
        shop=shown,
        holder=parts.HolderShown(_("the holder's name")),
        vehicle=parts.VehicleShown(
            _("the vehicle"), None, "", BODY, BODY, _("its plate"), SPECIMEN_VIN, "vin"
        ),
        films=(parts.FilmShown("A", 0, _("the maker"), _("and its film"), "", ""),),
        panels=tuple(panel(key, shop, today) for key in PANELS),
        promises=promises,
        warrantors=(warrantor, *(parts.WarrantorShown(name, _("address of the maker")) for name in makers)),
        terms=terms_shown(version, shown),
        legal=parts.LegalShown("", "", "", ()),
        method=_("the method and its version"),
    )
    return with_legal_texts(bare, profile_of(shop.legal_profile, country=shop.country))


def promise(line: CoverLine, shop: Shop, today: Any) -> parts.PromiseShown:
    term = term_of(line)
    by_maker = line.warrantor == CoverLine.Warrantor.MAKER
    return parts.PromiseShown(
        line_id=line.pk or 0,
        title=line.title,
        kinds=tuple(kind_words(key, shop) for key in line.defect_kinds),
        warrantor=_("the maker") if by_maker else shop.legal_name or shop.name,
        by_maker=by_maker,
        makers_terms=_("the maker's own terms and their date") if by_maker else "",
        remedy=line.remedy,
        term=term.iso,
        first_day=today,
        last_day=add_term(today, term),
        pieces=(),
        panels=_surface(line),
    )


def _surface(line: CoverLine) -> tuple[str, ...]:
    if line.surface == CoverLine.Surface.ALL:
        return ()
    return (str(CoverLine.Surface(line.surface).label),)


def panel(key: str, shop: Shop, today: Any) -> parts.PanelShown:
    name = trade_name(catalogue.panel(BODY, key), shop)
    piece = parts.PieceShown(0, 1, 1, "A", _("its lot"), "", "", False, parts.Heated(6), 8.0, 8.0)
    return parts.PanelShown(key, name, today, (piece,))


def unsaved(words: Mapping[str, Any], lines: Sequence[Mapping[str, Any]], plan: Any) -> tuple[Any, list[Any]]:
    """Version and lines as typed, without writing them."""
    version = PlanVersion(plan=plan, number=0, **words)
    return version, [CoverLine(position=nth, **line) for nth, line in enumerate(lines, 1)]
