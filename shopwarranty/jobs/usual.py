"""What the job's method says for the job, one panel, one place; nothing where no method fits."""

from collections.abc import Mapping

from shopwarranty.trade import method as trade_method
from shopwarranty.trade.technique import BY_KEY, FieldKind, Value

from .models import Job, PanelWork, Place
from .technique_rows import REACHED, WANTED


def usual_of_job(job: Job) -> dict[str, Value]:
    return trade_method.job_values(job.method_version.values) if job.method_version else {}


def usual_of_panel(panel_work: PanelWork) -> dict[str, Value]:
    version = panel_work.job.method_version
    return trade_method.panel_values(version.values, panel_work.panel) if version else {}


def usual_of_place(panel_work: PanelWork, place: Place) -> dict[str, Value]:
    version = panel_work.job.method_version
    if version is None:
        return {}
    return trade_method.place_values(version.values, panel_work.panel, place.key, place.kind)


def compared_with(usual: Mapping[str, Value], key: str) -> Value:
    """What a value is held against: wrap-in reached against the wanted one, where only that is named."""
    value = usual.get(key)
    return usual.get(WANTED) if value is None and key == REACHED else value


def differs(usual: Mapping[str, Value], key: str, value: Value) -> bool:
    """Whether a stated value is a deviation.

    Where the method is silent only a "yes" is one: something was done beyond it. "Not recorded", said
    outright, differs from whatever the method says.
    """
    expected = compared_with(usual, key)
    if expected is None:
        return value is True and key in BY_KEY and BY_KEY[key].kind is FieldKind.YES_NO
    if value is None and usual.get(key) is None:
        return False
    return value != expected
