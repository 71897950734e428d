"""Loading the demo shop: once, and all of it or nothing."""

from datetime import date

from django.db import transaction
from django.utils.translation import override

from shopwarranty.shops.models import Shop

from .people import SHOP_SLUG
from .today.everything import live_through
from .writing.everything import write_past


@transaction.atomic
def load_demo(today: date) -> Shop | None:
    """The demo shop as it stands on the morning of `today`; None when there is one already."""
    if Shop.objects.filter(slug=SHOP_SLUG).exists():
        return None
    with override("en"):
        written, story = write_past(today)
        live_through(written, story)
    return written.shop
