"""The plan a new shop starts with: short, cautious, in plain words, promising only the shop's own work.

It is a start. Whoever runs the shop reads it, changes it, and has it checked by a lawyer where the shop
trades; until somebody of the shop has written a version, pages say so. Terms and care advice: common
practice, no source.
"""

from collections.abc import Iterator
from datetime import datetime
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import override

from shopwarranty.shops.history import Actor
from shopwarranty.shops.models import Shop

from .models import CoverLine, Plan, PlanVersion
from .plan_actions import add_plan, publish, write_draft


def add_usual_plan(*, shop: Shop, actor: Actor, now: datetime) -> PlanVersion:
    """Published, so that the shop can issue at once. `written_by` is empty: the tool wrote it."""
    with override(shop.language):
        plan = Plan.objects.filter(name=_("Our work")).first() or add_plan(
            name=_("Our work"), actor=actor, now=now
        )
        known = plan.versions.filter(published_at__isnull=False).first()
        if known:
            return known
        nobody = Actor(who=actor.who)
        version = write_draft(
            plan=plan, words=words_for(shop), lines=list(cover_lines()), actor=nobody, now=now
        )
    publish(version=version, warned=(), reasons={}, actor=actor, now=now)
    return version


def is_untouched(version: PlanVersion) -> bool:
    """Whether it is still the start, as the tool wrote it."""
    return version.written_by_id is None


def words_for(shop: Shop) -> dict[str, Any]:
    return {
        "language": shop.language,
        "exclusions": [
            _("Damage from outside: stone chips, scrapes, collisions, hail, vandalism."),
            _("Damage caused by fuel, solvents, tar or bird droppings left on the film."),
            _("Damage caused by work that others did on the film, on the panel they worked on."),
            _("Panels without film in the drawing, and marks noted before the film was laid."),
        ],
        "duties": [],
        "aftercare": [
            _("Leave the vehicle unwashed for the first 7 days."),
            _("Keep the jet of a pressure washer well away from edges, and never point it at one."),
            _("Wash by hand with mild soap and dry with a soft cloth."),
            _(
                "We offer an edge check about two weeks after handover. Missing it does not end this "
                "warranty."
            ),
        ],
        "claim_steps": [
            _("Leave the place as it is and take a photo of it."),
            _("Write to us, call us or come by, with the number of this certificate."),
            _("We look at it with you, and tell you in writing what we will do and why."),
            _(
                "If you see it differently, say so: it is looked at again. Your rights under law stay "
                "as they are."
            ),
        ],
        "paid": _("We pay for film, labour and taking off the old film on that panel."),
        "not_paid": _("Bringing the vehicle to us and a replacement vehicle are not paid for."),
        "transfer": PlanVersion.Transfer.FREE,
        "territory": territory(shop),
    }


def territory(shop: Shop) -> str:
    """Where the law asks for it; a shop that serves elsewhere writes so."""
    return {
        "eu": _("The member states of the European Union."),
        "uk": _("The United Kingdom."),
    }.get(shop.legal_profile, "")


def cover_lines() -> Iterator[dict[str, Any]]:
    yield {
        "title": _("An edge, corner or recess lifts, or film pulls back"),
        "defect_kinds": ["edge-lift", "corner-lift", "tenting", "seam-gap", "shrink-back"],
        "years": 1,
        "warrantor": CoverLine.Warrantor.SHOP,
        "remedy": _("We heat and press it down again, or lay new film on that panel."),
    }
    yield {
        "title": _("Our work left a crease, a bubble, dirt under the film or a cut"),
        "defect_kinds": ["crease", "finger", "air-bubble", "moisture-pocket", "contamination", "knife-mark"],
        "months": 3,
        "warrantor": CoverLine.Warrantor.SHOP,
        "remedy": _("We put it right, or lay new film on that panel."),
    }
