"""The shop itself: its people, hours, bays and methods."""

from datetime import UTC, date, datetime, time, timedelta

from django.contrib.auth.hashers import make_password

from shopwarranty.desk.new_shop import open_shop
from shopwarranty.jobs.actions import add_method, retire_method, write_method_version
from shopwarranty.jobs.models import Method
from shopwarranty.shops.actions import Hours, close_day, set_bays, set_hours
from shopwarranty.shops.history import Actor
from shopwarranty.shops.models import Member, Shop, User
from shopwarranty.shops.scope import shop_scope

from .. import sources
from ..people import PASSWORD, SHOP_SLUG
from ..plans import FIRST_DAY_HERE
from .rows import Written

ZONE = "America/New_York"
HOURS = (
    *(Hours(day, time(8), time(12, 30)) for day in range(5)),
    *(Hours(day, time(13), time(18)) for day in range(5)),
    Hours(5, time(9), time(16)),
    Hours(6, time(10), time(15)),
)
STOCKTAKING_IN = timedelta(days=17)


def write_shop(today: date) -> Written:
    """Opens the shop on the day since when it keeps its record here. Call outside any scope."""
    opened = _noon(today - timedelta(days=FIRST_DAY_HERE))
    owner = next(row for row in sources.people() if row["key"] == "owner")
    shop = open_shop(
        slug=SHOP_SLUG,
        name="Harrow Street Film",
        owner_email=owner["email"],
        owner_name=owner["name"],
        now=opened,
        legal_name="Harrow Street Film LLC",
        street="41 Harrow Street",
        town="Millbrook, NY 12545",
        country="US",
        region="NY",
        telephone="845-555-0141",
        email="desk@harrow.example",
        public_url="https://harrow.example",
        time_zone=ZONE,
        units=Shop.Units.US,
        currency="USD",
        legal_profile=Shop.LegalProfile.US,
        certificate_prefix="HS",
        is_demo=True,
    )
    written = Written(shop)
    with shop_scope(shop):
        written.members = _members(opened)
        actor = written.actor("owner")
        set_hours(hours=list(HOURS), actor=actor, now=opened)
        set_bays(names=["Bay 1", "Bay 2"], actor=actor, now=opened)
        close_day(on=today + STOCKTAKING_IN, name="Stocktaking", actor=actor, now=opened)
        _methods(written, actor, today)
    return written


def _noon(day: date) -> datetime:
    return datetime.combine(day, time(16), tzinfo=UTC)


def _members(now: datetime) -> dict[str, Member]:
    """One password, hashed once, for all of them."""
    hashed, members = make_password(PASSWORD), {}
    for row in sources.people():
        user, _ = User.objects.get_or_create(email=row["email"], defaults={"name": row["name"]})
        User.objects.filter(pk=user.pk).update(password=hashed)
        roles = {f"is_{role}": True for role in row["roles"].split()}
        values = {"name": row["name"], "joined_at": now, **roles}
        members[row["key"]], _ = Member.objects.update_or_create(user=user, defaults=values)
    return members


def _methods(written: Written, actor: Actor, today: date) -> None:
    """Versions as they were written over the years; the one every new shop starts with is retired."""
    for method in Method.objects.all():
        retire_method(method=method, actor=actor, now=_noon(today - timedelta(days=FIRST_DAY_HERE)))
    for told in sources.methods():
        first = told.versions[0]
        at = _noon(today - timedelta(days=first.since_days))
        version = add_method(name=told.name, values=dict(first.values), actor=actor, now=at, note=first.note)
        written.versions[told.name, 1] = version
        for number, later in enumerate(told.versions[1:], 2):
            at = _noon(today - timedelta(days=later.since_days))
            written.versions[told.name, number] = write_method_version(
                method=version.method, values=dict(later.values), actor=actor, now=at, note=later.note
            )
