"""What differed from the method, as the certificate says it: "handle cup: not post-heated, 4 passes"."""

from itertools import groupby

from django.utils.translation import gettext as _

from shopwarranty.jobs.record_parts import DeviationRecord, PanelRecord
from shopwarranty.jobs.technique_rows import from_text
from shopwarranty.jobs.words import phrase
from shopwarranty.trade.technique import BY_KEY
from shopwarranty.web.formats import ShopLike


def differences(panel: PanelRecord, shop: ShopLike) -> tuple[str, ...]:
    """One phrase for the panel itself and one for every place where something differed, in walking order."""
    names = {place.id: place.name for place in panel.places}
    own = {each.key: each.name for place in panel.places for each in place.own}
    own |= {each.key: each.name for each in panel.own}
    phrases = []
    for place_id, group in groupby(panel.deviations, key=lambda each: each.place_id):
        said = ", ".join(said_of(each, own, shop) for each in group)
        name = names.get(place_id or 0, "")
        phrases.append(_("%(place)s: %(what)s") % {"place": name, "what": said} if name else said)
    return tuple(phrases)


def said_of(deviation: DeviationRecord, own: dict[str, str], shop: ShopLike) -> str:
    """A field of the shop's own by its name; its value stands there as text."""
    field = BY_KEY.get(deviation.field)
    if field is not None:
        return phrase(field, from_text(field, deviation.actual), shop)
    words = own.get(deviation.field, deviation.field)
    said = f"{words} {deviation.actual}"
    return said if deviation.actual else _("%(what)s not recorded") % {"what": words}
