"""What is missing before handover, found fact by fact. Each finder looks at one kind of fact."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime

from django.urls import NoReverseMatch, reverse
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from shopwarranty.jobs.models import Vehicle
from shopwarranty.jobs.record_parts import PanelRecord
from shopwarranty.trade import vin
from shopwarranty.warranty.certificate_checks import unread_texts
from shopwarranty.warranty.coverage import unprintable
from shopwarranty.warranty.disclosures import Disclosure
from shopwarranty.warranty.preparing import public_base
from shopwarranty.warranty.refusals import NoPublicAddress
from shopwarranty.warranty.usual_plan import is_untouched
from shopwarranty.web.trade_names import first_upper

from .gap import Gap, Kind
from .handover_situation import OpenDefect, Situation

BLOCKS, ASKS, TELLS = Kind.BLOCKS, Kind.ASKS, Kind.TELLS
ABOUT_THE_ADDRESS = frozenset({"0.2", "US-05", "EU-02", "UK-04", "AU-05", "AU-07"})
LOOSE, GROWING = 4, 3
NO_LOOK = "no_look"


def link(name: str, *args: object) -> str:
    """A page that may not be there in this installation leads nowhere."""
    try:
        return reverse(name, args=args)
    except NoReverseMatch:
        return ""


def vehicle_gaps(at: Situation) -> Iterator[Gap]:
    vehicle = at.record.vehicle
    url = link("vehicle", at.slug, vehicle.id)
    if at.is_customers and vehicle.vin_kind == Vehicle.VinKind.TO_READ:
        words = _("The VIN is still to be read. A certificate is about one certain vehicle.")
        yield Gap(BLOCKS, "vin", words, url, _("Type the VIN"))
    if at.is_customers and at.record.holder is None:
        words = _("Nobody is recorded as the warranty's holder.")
        yield Gap(BLOCKS, "holder", words, url, _("Add the holder"))
    if vehicle.vin_kind == Vehicle.VinKind.VIN and vin.check(vehicle.vin).is_doubtful:
        words = _(
            "The VIN's check digit does not agree. Vehicles made for Europe need not have one; look again."
        )
        yield Gap(TELLS, "vin-check", words, url, _("Look at the VIN"))


def panel_gaps(at: Situation) -> Iterator[Gap]:
    url = link("job", at.slug, at.record.id)
    if not at.panels:
        words = _("No panel is finished yet. Only finished panels are handed over and promised for.")
        yield Gap(BLOCKS, "panels", words, url, _("Finish the panels"))
    unfinished = at.record.unfinished_panels
    if at.panels and unfinished:
        words = _("Not finished, and so not on the certificate: %(panels)s.") % {"panels": names(unfinished)}
        yield Gap(TELLS, "unfinished", words, url, _("Go on with the job"))
    for item in at.record.open_items:
        words = _("%(item)s came off (%(panel)s) and is neither refitted, replaced nor given back.")
        said = words % {"item": first_upper(item.name), "panel": item.panel_name}
        yield Gap(ASKS, f"not_refitted:{item.id}", said, url, _("Settle it"))


def film_gaps(at: Situation) -> Iterator[Gap]:
    pieces = [(panel, piece) for panel in at.panels for piece in panel.standing_pieces]
    held = {piece.lot_id: piece.lot for _panel, piece in pieces if piece.lot_quarantined}
    for lot_id, lot in held.items():
        words = _("Lot %(lot)s is in quarantine, and its film is on this vehicle.") % {"lot": lot}
        yield Gap(
            ASKS, f"quarantined_lot:{lot_id}", words, link("lot", at.slug, lot_id), _("Look at the lot")
        )
    for roll in at.rolls_below_zero:
        words = _("Roll %(roll)s is cut below zero.") % {"roll": roll.label}
        yield Gap(ASKS, f"roll_below_zero:{roll.pk}", words, link("roll", at.slug, roll.pk), _("Measure it"))
    url = link("job", at.slug, at.record.id)
    unnamed = tuple(
        panel for panel in at.panels if any(piece.film is None for piece in panel.standing_pieces)
    )
    if unnamed:
        words = _("The film is not recorded: %(panels)s.") % {"panels": names(unnamed)}
        yield Gap(TELLS, "film", words, url, _("Name the film"))
    no_lot = tuple(
        panel for panel in at.panels if any(piece.film and not piece.lot for piece in panel.standing_pieces)
    )
    if no_lot:
        words = _("The lot is unknown or not recorded: %(panels)s.") % {"panels": names(no_lot)}
        yield Gap(TELLS, "lot", words, url, _("Name the lot"))


def look_gaps(at: Situation) -> Iterator[Gap]:
    """A place nobody looked at is not clean; a panel nobody looked at needs a reason."""
    unseen = [look.panel for look in at.looks if not look.looked_at]
    if unseen:
        words = _("Nobody has looked at the finished work: %(panels)s.") % {"panels": names(unseen)}
        yield Gap(ASKS, NO_LOOK, words, "#look", _("Look now"))
    for look in at.looks:
        if look.looked_at and not look.whole:
            n = look.unseen
            words = ngettext(
                "%(panel)s: one place was not looked at.", "%(panel)s: %(n)s places were not looked at.", n
            )
            said = words % {"panel": first_upper(look.panel.name), "n": n}
            yield Gap(TELLS, f"part_look:{look.panel.id}", said, "#look", _("Look now"))


def defect_gaps(at: Situation) -> Iterator[Gap]:
    for defect in at.defects:
        where = place_words(at, defect)
        url = link("record-remedy", at.slug, defect.id)
        if defect.severity >= LOOSE:
            words = _("%(where)s: %(what)s is loose, tearing or puts paint at risk. Put it right first.")
            said = words % {"where": where, "what": defect.words}
            yield Gap(BLOCKS, f"severity_4:{defect.id}", said, url, _("Record the remedy"))
        elif defect.severity == GROWING:
            words = _("%(where)s: %(what)s is growing or catching dirt.")
            said = words % {"where": where, "what": defect.words}
            yield Gap(ASKS, f"severity_3:{defect.id}", said, url, _("Record the remedy"))


def place_words(at: Situation, defect: OpenDefect) -> str:
    panel = at.record.panel(defect.panel_id)
    place = next((each.name for each in panel.places if each.id == defect.place_id), "")
    return first_upper(f"{panel.name}, {place}" if place else panel.name)


def shop_gaps(at: Situation) -> Iterator[Gap]:
    if not at.is_customers:
        return
    url = link("shop-settings", at.slug)
    if not (at.shop.name.strip() and at.shop.address):
        words = _("The shop's postal address is missing: whoever promises is named with it.")
        yield Gap(BLOCKS, "warrantor", words, url, _("Add the address"))
    try:
        public_base(at.shop)
    except NoPublicAddress:
        words = _(
            "The shop's public https address is not set: the code on the certificate would lead nowhere."
        )
        yield Gap(BLOCKS, "public-address", words, url, _("Set the address"))
    if at.plan is None:
        words = _("No warranty plan is published.")
        yield Gap(BLOCKS, "plan", words, link("plans", at.slug), _("Publish a plan"))
    elif is_untouched(at.plan):
        words = _(
            "The plan is still the one a new shop starts with. Read it, change it, and have it checked "
            "by a lawyer where you trade."
        )
        yield Gap(TELLS, "plan-untouched", words, link("plans", at.slug), _("Read the plan"), of_text=True)


def text_gaps(at: Situation) -> Iterator[Gap]:
    """What the legal checklist says of the real text."""
    if not at.is_customers or at.built is None or at.plan is None:
        return
    url = link("plan-version", at.slug, at.plan.pk)
    for item in at.disclosures:
        if item.blocks and not (item.identifier in ABOUT_THE_ADDRESS and not at.shop.address):
            yield Gap(BLOCKS, item.identifier, text_words(item), url, _("To the plan"), of_text=True)
        elif item.asks_reason and item.identifier in at.accepted:
            change = at.accepted[item.identifier]
            said = _("%(words)s Accepted by %(who)s: %(why)s") % {
                "words": text_words(item), "who": change.who, "why": change.why
            }  # fmt: skip
            yield Gap(TELLS, item.identifier, said, url, _("To the plan"), of_text=True)
        elif item.asks_reason:
            yield Gap(
                ASKS, item.identifier, text_words(item), url, _("To the plan"), only_owner=True, of_text=True
            )
        elif item.effect == "tells":
            yield Gap(TELLS, item.identifier, text_words(item), "", "", of_text=True)
    yield from unread_gaps(at)


def text_words(item: Disclosure) -> str:
    message = item.message.render(_)
    return f"{message} {item.remedy.render(_)}" if item.remedy else message


def unread_gaps(at: Situation) -> Iterator[Gap]:
    assert at.built is not None
    left = unread_texts(at.built.snapshot)
    if left:
        words = _("Required wording nobody of the shop has compared with the law's text yet: %(items)s.")
        said, url = words % {"items": ", ".join(left)}, link("legal-texts", at.slug)
        kind = TELLS if at.shop.is_demo else BLOCKS
        yield Gap(kind, "texts-unread", said, url, _("Compare and confirm"), of_text=True)


def holder_gaps(at: Situation) -> Iterator[Gap]:
    holder = at.record.holder
    if holder is None:
        return
    url = link("vehicle", at.slug, at.record.vehicle.id)
    if not holder.email:
        words = _("The holder has no e-mail address. Print the certificate and hand it over.")
        yield Gap(TELLS, "no-mail", words, url, _("Add an address"))
    strange = unprintable(f"{holder.name} {holder.address} {at.record.vehicle.title} {at.record.plate}")
    if strange:
        words = _("The certificate's fonts have no sign for %(signs)s. Look at the preview.")
        yield Gap(TELLS, "signs", words % {"signs": " ".join(strange)}, url, _("Change the spelling"))


def names(panels: tuple[PanelRecord, ...] | list[PanelRecord]) -> str:
    return ", ".join(panel.name for panel in panels)


def finished_since(at: Situation, moment: datetime) -> bool:
    """A panel finished after a reason was given is not what the reason was about."""
    unseen = (look.panel.finished_at for look in at.looks if not look.looked_at)
    return any(finished is not None and finished > moment for finished in unseen)


def with_reason(gap: Gap, at: Situation) -> Gap:
    """A reason given before for the same fact counts."""
    given = at.reasons.get(gap.key)
    if not gap.asks or given is None or (gap.key == NO_LOOK and finished_since(at, given.at)):
        return gap
    who = given.member.name if given.member else ""
    return replace(gap, answered=given.reason, answered_by=who)
