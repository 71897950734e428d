"""Opening a shop with what every room needs to start: a method, check plans, a warranty plan."""

from datetime import datetime
from typing import Any

from django.db import transaction

from shopwarranty.inspections.actions import add_usual_check_plans
from shopwarranty.jobs.actions import add_usual_method
from shopwarranty.shops.actions import create_shop, person
from shopwarranty.shops.history import Actor
from shopwarranty.shops.models import Member, Shop
from shopwarranty.shops.scope import shop_scope
from shopwarranty.warranty.usual_plan import add_usual_plan


@transaction.atomic
def open_shop(
    *,
    slug: str,
    name: str,
    owner_email: str,
    owner_name: str,
    now: datetime,
    password: str | None = None,
    **more: Any,
) -> Shop:
    """A shop that can record, issue and book from the first minute. Raises SlugTaken.

    A password given is the owner's from now on; without one, see `sign_in_path`.
    """
    owner = person(email=owner_email, name=owner_name)
    if password:
        owner.set_password(password)
        owner.save(update_fields=["password"])
    shop = create_shop(slug=slug, name=name, owner=owner, now=now, **more)
    with shop_scope(shop):
        actor = Actor.of(Member.objects.get(user=owner))
        add_usual_method(actor=actor, now=now)
        add_usual_check_plans(shop=shop)
        add_usual_plan(shop=shop, actor=actor, now=now)
    return shop
