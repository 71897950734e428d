"""Lines of the history as a person reads them: what was done, and each value before and after."""

from dataclasses import dataclass
from datetime import date, datetime

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from shopwarranty.shops.act_words import act_words
from shopwarranty.shops.models import Change
from shopwarranty.trade.technique import BY_KEY
from shopwarranty.web.formats import ShopLike, clock, exact, full_date, temperature
from shopwarranty.web.trade_names import first_upper

from .shop_catalogue import ShopCatalogue
from .technique_rows import from_text
from .words import reason_words, value_words

NAMES = {
    "acknowledged_at": gettext_lazy("Shown on"),
    "acknowledged_by": gettext_lazy("Shown to"),
    "air_c": gettext_lazy("Air"),
    "at": gettext_lazy("At"),
    "finished_at": gettext_lazy("Finished"),
    "handed_over_on": gettext_lazy("Handed over"),
    "humidity": gettext_lazy("Humidity, %"),
    "kind": gettext_lazy("What"),
    "lot": gettext_lazy("Lot"),
    "lot_unknown_reason": gettext_lazy("Lot unknown, because"),
    "marks": gettext_lazy("Old marks"),
    "members": gettext_lazy("People"),
    "method": gettext_lazy("Method"),
    "painted_on": gettext_lazy("Painted on"),
    "panel": gettext_lazy("Panel"),
    "panels": gettext_lazy("Panels"),
    "places": gettext_lazy("Places"),
    "planned_handover_on": gettext_lazy("Handover planned for"),
    "ref": gettext_lazy("Job"),
    "roll": gettext_lazy("Roll"),
    "started_at": gettext_lazy("Began"),
    "stopped_at": gettext_lazy("Stopped"),
    "substrate": gettext_lazy("Film goes on"),
    "surface_c": gettext_lazy("Panel"),
}
# Beside the value itself these say nothing a reader needs.
LEFT_OUT = ("_basis", "_typed")


@dataclass(frozen=True, slots=True)
class HistoryLine:
    act: str
    at: datetime
    who: str
    why_words: str
    lines: tuple[str, ...]


def history_line(change: Change, where: str, body: str, catalogue: ShopCatalogue) -> HistoryLine:
    """`where` names the panel or place the row belongs to."""
    act = first_upper(act_words(change.act))
    keys = [key for key in dict.fromkeys((*change.before, *change.after)) if not key.endswith(LEFT_OUT)]
    lines = (before_after(key, change, body, catalogue) for key in keys)
    title = f"{first_upper(where)}: {act}" if where else act
    why = first_upper(reason_words(change.why))
    return HistoryLine(title, change.at, change.who, why, tuple(line for line in lines if line))


def before_after(key: str, change: Change, body: str, catalogue: ShopCatalogue) -> str:
    """ "" for a value that was and stays unrecorded."""
    field = BY_KEY.get(key)
    words = _(field.words) if field else str(NAMES.get(key, key.replace("_", " ")))
    old, new = (shown(key, values.get(key), body, catalogue) for values in (change.before, change.after))
    if key not in change.before:
        return f"{first_upper(words)}: {new}" if new else ""
    both = {"name": first_upper(words), "new": new or _("not recorded"), "old": old or _("not recorded")}
    return _("%(name)s: %(new)s, before %(old)s") % both


def shown(key: str, value: object, body: str, catalogue: ShopCatalogue) -> str:
    if value in (None, "", []):
        return ""
    if isinstance(value, list):
        return ", ".join(shown(key.removesuffix("s"), one, body, catalogue) for one in value)
    if isinstance(value, int | float) and key.endswith("_c") and not isinstance(value, bool):
        return str(temperature(exact(value), catalogue.shop))
    if isinstance(value, bool):
        return _("yes") if value else _("no")
    return text_shown(key, str(value), body, catalogue)


def text_shown(key: str, text: str, body: str, catalogue: ShopCatalogue) -> str:
    field = BY_KEY.get(key)
    if field:
        return value_words(field, from_text(field, text), catalogue.shop)
    if key == "panel":
        return catalogue.panel_name(body, text)
    return moment_words(text, catalogue.shop) if key.endswith(("at", "_on")) else text


def moment_words(text: str, shop: ShopLike) -> str:
    """A moment or a day as JSON keeps it, in the shop's words."""
    try:
        moment = datetime.fromisoformat(text)
    except ValueError:
        return text
    if len(text) == len("2026-11-25"):
        return full_date(date.fromisoformat(text), shop)
    return f"{full_date(moment, shop)}, {clock(moment, shop)}"
