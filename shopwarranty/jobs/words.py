"""What was recorded, in words: values with their units, and what differed from the method as sentences."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from shopwarranty.trade import words as trade_words
from shopwarranty.trade.technique import BY_KEY, FieldKind, TechniqueField, Unit, Value
from shopwarranty.web.formats import ShopLike, exact, rounded, short_length, temperature
from shopwarranty.web.trade_names import first_upper

from .record_parts import DeviationRecord, PanelRecord, PlaceRecord
from .technique_rows import Recorded, from_text

TIME_UNITS = {Unit.MINUTES: gettext_lazy("min"), Unit.HOURS: gettext_lazy("h")}


@dataclass(frozen=True, slots=True)
class Differing:
    """One deviation ready to be read: where, what, and the row that undoes it."""

    id: int
    where: str
    what: str
    why: str
    panel_id: int | None
    place_id: int | None


def reason_words(reason: str) -> str:
    """A quick reason by its words; anything else as it was typed."""
    try:
        return _(trade_words.words_for(trade_words.DEVIATION_REASONS, reason))
    except KeyError:
        return reason


def value_words(field: TechniqueField, value: Value, shop: ShopLike) -> str:
    """The value alone, with its unit: "yes", "8 mm", "199 °F"."""
    if value is None:
        return _("not recorded")
    if field.kind is FieldKind.YES_NO:
        return _("yes") if value else _("no")
    if field.kind is FieldKind.CHOICE:
        chosen = next((choice for choice in field.choices if choice.key == value), None)
        return _(chosen.words) if chosen else str(value)
    return number_words(field, float(value), shop)


def number_words(field: TechniqueField, value: float, shop: ShopLike) -> str:
    if field.unit is Unit.CELSIUS:
        return str(temperature(exact(value), shop))
    if field.unit is Unit.MM:
        return str(short_length(exact(value), shop))
    unit = TIME_UNITS.get(field.unit or Unit.COUNT)
    return f"{rounded(exact(value), 1)}\u00a0{unit}" if unit else rounded(exact(value), 1)


def phrase(field: TechniqueField, value: Value, shop: ShopLike) -> str:
    """Field and value as one phrase: "post-heated", "not post-heated", "passes 2", "wrap-in reached 8 mm"."""
    name = _(field.words)
    if value is None:
        return _("%(what)s not recorded") % {"what": name}
    if field.kind is FieldKind.YES_NO:
        return name if value else _("not %(what)s") % {"what": name}
    if field.key == "passes" and not isinstance(value, str):
        count = int(value)
        return ngettext("%(n)s pass", "%(n)s passes", count) % {"n": count}
    return f"{name} {value_words(field, value, shop)}"


def values_phrase(values: Mapping[str, Recorded], shop: ShopLike) -> str:
    """Everything recorded, in the order of the fields; "" when nothing is."""
    said = (
        phrase(BY_KEY[key], one.value, shop)
        for key, one in values.items()
        if one.value is not None and key in BY_KEY
    )
    return ", ".join(said)


def deviation_phrase(deviation: DeviationRecord, shop: ShopLike) -> str:
    """What was done, and the usual beside it where that adds something."""
    field = BY_KEY.get(deviation.field)
    if field is None:
        return f"{deviation.field} {deviation.actual}"
    actual, usual = from_text(field, deviation.actual), from_text(field, deviation.usual)
    said = phrase(field, actual, shop)
    if usual is None or (field.kind is FieldKind.YES_NO and actual is not None):
        return said
    return _("%(said)s, usual %(usual)s") % {"said": said, "usual": value_words(field, usual, shop)}


def differing(
    deviations: Iterable[DeviationRecord], panels: Iterable[PanelRecord], shop: ShopLike
) -> list[Differing]:
    """Each deviation with the name of its panel and place, in the order given."""
    names = {panel.id: panel.name for panel in panels}
    places = {place.id: place.name for panel in panels for place in panel.places}
    return [
        Differing(
            id=row.id,
            where=where_words(names.get(row.panel_id or 0, ""), places.get(row.place_id or 0, "")),
            what=first_upper(deviation_phrase(row, shop)) + ".",
            why=with_stop(first_upper(reason_words(row.reason))),
            panel_id=row.panel_id,
            place_id=row.place_id,
        )
        for row in deviations
    ]


def where_words(panel: str, place: str) -> str:
    if not panel:
        return _("The whole job")
    return first_upper(f"{panel}, {place}" if place else panel)


def with_stop(text: str) -> str:
    return text if not text or text.endswith(".") else f"{text}."


def place_words(place: PlaceRecord, shop: ShopLike) -> str:
    """What is recorded of the place; said plainly when nothing is."""
    return first_upper(values_phrase(place.values, shop)) or _("Not recorded")
