"""Lines of the history as a person reads them: what was done, and each value before and after."""

from dataclasses import dataclass
from datetime import datetime

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from shopwarranty.shops.models import Change
from shopwarranty.trade.technique import BY_KEY
from shopwarranty.web.formats import ShopLike
from shopwarranty.web.trade_names import first_upper

from .technique_rows import from_text
from .words import reason_words, value_words

ACTS = {
    "as usual again": gettext_lazy("As usual again"),
    "confirmation taken back": gettext_lazy("Confirmation taken back"),
    "confirmed by method": gettext_lazy("Confirmed as usual"),
    "film": gettext_lazy("Film chosen"),
    "intake": gettext_lazy("As it came"),
    "intake corrected": gettext_lazy("As it came, corrected"),
    "job changed": gettext_lazy("Job changed"),
    "job opened": gettext_lazy("Job opened"),
    "laying event": gettext_lazy("While laying"),
    "marks acknowledged": gettext_lazy("Marks shown and agreed"),
    "members": gettext_lazy("People on the panel"),
    "method": gettext_lazy("Method changed"),
    "panel finished": gettext_lazy("Panel finished"),
    "panel opened again": gettext_lazy("Panel opened again"),
    "panel taken out": gettext_lazy("Panel taken out"),
    "panels started": gettext_lazy("Panels started"),
    "part removed": gettext_lazy("Part taken off"),
    "part settled": gettext_lazy("Part settled"),
    "piece added": gettext_lazy("Piece of film added"),
    "piece ended": gettext_lazy("Piece of film ended"),
    "place added": gettext_lazy("Place added"),
    "reading": gettext_lazy("Reading taken"),
    "reading corrected": gettext_lazy("Reading corrected"),
    "safety notes": gettext_lazy("Safety notes"),
    "session started": gettext_lazy("Work started"),
    "session stopped": gettext_lazy("Work paused"),
    "values": gettext_lazy("Values stated"),
}


@dataclass(frozen=True, slots=True)
class HistoryLine:
    act: str
    at: datetime
    who: str
    why_words: str
    lines: tuple[str, ...]


def history_line(change: Change, where: str, shop: ShopLike) -> HistoryLine:
    """`where` names the panel or place the row belongs to."""
    act = str(ACTS.get(change.act, first_upper(change.act)))
    keys = dict.fromkeys((*change.before, *change.after))
    lines = tuple(before_after(key, change, shop) for key in keys)
    title = f"{first_upper(where)}: {act}" if where else act
    return HistoryLine(title, change.at, change.who, reason_words(change.why), lines)


def before_after(key: str, change: Change, shop: ShopLike) -> str:
    field = BY_KEY.get(key)
    name = first_upper(_(field.words)) if field else first_upper(key.replace("_", " "))
    old, new = (shown(key, values.get(key), shop) for values in (change.before, change.after))
    if key not in change.before:
        return f"{name}: {new}"
    return _("%(name)s: %(new)s, before %(old)s") % {"name": name, "new": new, "old": old}


def shown(key: str, value: object, shop: ShopLike) -> str:
    if value in (None, "", []):
        return _("not recorded")
    field = BY_KEY.get(key)
    if field and isinstance(value, str):
        return value_words(field, from_text(field, value), shop)
    if isinstance(value, list):
        return ", ".join(str(one) for one in value)
    return str(value)
