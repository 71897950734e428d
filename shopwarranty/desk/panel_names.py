"""Names of panels for lists of rows that know only their key."""

from collections.abc import Iterable
from typing import Any

from shopwarranty.jobs.models import ShopPanel
from shopwarranty.trade import catalogue
from shopwarranty.web.trade_names import trade_name


def with_panel_names(pieces: Iterable[Any], shop: Any) -> None:
    """Sets `panel_name` on film pieces with panel work, job and vehicle loaded; one more query in all."""
    added = {row.key: row.name for row in ShopPanel.objects.all()}
    for piece in pieces:
        work = piece.panel_work
        piece.panel_name = panel_name(work.job.vehicle.body_style, work.panel, shop, added)


def panel_name(body_style: str, key: str, shop: Any, added: dict[str, str]) -> str:
    if key in added:
        return added[key]
    try:
        return trade_name(catalogue.panel(body_style, key), shop)
    except LookupError:
        return key
