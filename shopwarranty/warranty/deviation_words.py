"""What differed from the method, as the certificate says it: "handle cup: not post-heated, passes 4"."""

from itertools import groupby

from django.utils.translation import gettext as _

from shopwarranty.jobs.record_parts import DeviationRecord, PanelRecord
from shopwarranty.jobs.technique_rows import from_text
from shopwarranty.trade.technique import BY_KEY, FieldKind, TechniqueField, Unit, Value
from shopwarranty.web.formats import ShopLike, exact, rounded, short_length, temperature


def differences(panel: PanelRecord, shop: ShopLike) -> tuple[str, ...]:
    """One phrase for the panel itself and one for every place where something differed, in walking order."""
    names = {place.id: place.name for place in panel.places}
    own = {each.key: each.name for place in panel.places for each in place.own}
    own |= {each.key: each.name for each in panel.own}
    phrases = []
    for place_id, group in groupby(panel.deviations, key=lambda each: each.place_id):
        said = ", ".join(phrase(each, own, shop) for each in group)
        name = names.get(place_id or 0, "")
        phrases.append(_("%(place)s: %(what)s") % {"place": name, "what": said} if name else said)
    return tuple(phrases)


def phrase(deviation: DeviationRecord, own: dict[str, str], shop: ShopLike) -> str:
    field = BY_KEY.get(deviation.field)
    if field is None:
        words = own.get(deviation.field, deviation.field)
        said = f"{words} {deviation.actual}"
        return said if deviation.actual else _("%(what)s not recorded") % {"what": words}
    value = from_text(field, deviation.actual)
    if value is None:
        return _("%(what)s not recorded") % {"what": _(field.words)}
    if field.kind is FieldKind.YES_NO:
        return _(field.words) if value else _("not %(what)s") % {"what": _(field.words)}
    return f"{_(field.words)} {value_words(field, value, shop)}"


def value_words(field: TechniqueField, value: Value, shop: ShopLike) -> str:
    if field.kind is FieldKind.CHOICE:
        chosen = next((choice for choice in field.choices if choice.key == value), None)
        return _(chosen.words) if chosen else str(value)
    number = exact(float(value or 0))
    if field.unit is Unit.CELSIUS:
        return str(temperature(number, shop))
    if field.unit is Unit.MM:
        return str(short_length(number, shop))
    unit = {Unit.MINUTES: _("min"), Unit.HOURS: _("h")}.get(field.unit or Unit.COUNT, "")
    return f"{rounded(number, 1)}\u00a0{unit}" if unit else rounded(number, 1)
