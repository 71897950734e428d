"""The vehicle and the zoomed panel on a page. `shop` comes from the context: it decides bonnet or hood."""

from typing import Any

from django import template
from django.template import Context
from django.utils.safestring import SafeString

from shopwarranty.web.key_svg import key
from shopwarranty.web.panel_svg import panel_svg, standing_words
from shopwarranty.web.trade_names import first_upper, trade_name
from shopwarranty.web.vehicle import PanelDrawing, VehicleDrawing
from shopwarranty.web.vehicle_svg import vehicle_svg

register = template.Library()


@register.simple_tag(takes_context=True)
def vehicle_overview(context: Context, drawing: VehicleDrawing) -> SafeString:
    """{% vehicle_overview drawing %}: the whole vehicle from above."""
    return vehicle_svg(drawing, context.get("shop"))


@register.simple_tag(takes_context=True)
def panel_zoom(context: Context, drawing: PanelDrawing) -> SafeString:
    """{% panel_zoom drawing %}: one panel, large."""
    return panel_svg(drawing, context.get("shop"))


@register.simple_tag(takes_context=True)
def panel_standing(context: Context, drawing: PanelDrawing) -> str:
    """{% panel_standing drawing %}: how it is turned, in words."""
    return standing_words(drawing, context.get("shop"))


@register.simple_tag
def drawing_key(drawing: VehicleDrawing) -> SafeString:
    """{% drawing_key drawing %}: what its strokes mean, from the drawing's legend."""
    return key(drawing)


@register.filter
def panel_words(thing: Any, shop: Any) -> str:
    """A panel's or place's name as this shop says it, to begin a line with."""
    return first_upper(trade_name(thing, shop))
