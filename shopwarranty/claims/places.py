"""Where on the vehicle a claimed defect is, in the shop's words."""

from shopwarranty.jobs.models import Place
from shopwarranty.jobs.shop_catalogue import ShopCatalogue
from shopwarranty.web.trade_names import first_upper

from .models import ClaimedDefect


def place_words(place: Place, catalogue: ShopCatalogue) -> str:
    work = place.piece.panel_work
    body = work.job.vehicle.body_style
    panel = first_upper(catalogue.panel_name(body, work.panel))
    return f"{panel}, {catalogue.place_name(body, work.panel, place.key, place.name)}"


def where_words(item: ClaimedDefect, catalogue: ShopCatalogue) -> str:
    """The place, or what the holder called it while nobody has matched it."""
    return place_words(item.place, catalogue) if item.place else item.words
