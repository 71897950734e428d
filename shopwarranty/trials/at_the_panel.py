"""What the draw says, shown where the work is done."""

from django.urls import reverse
from django.utils.translation import gettext as _

from shopwarranty.jobs.panel_notes import PanelNote
from shopwarranty.jobs.shop_catalogue import ShopCatalogue
from shopwarranty.web.trade_names import first_upper

from .actions import value_of_arm
from .models import Draw
from .words import arm_words, drawn_place_words


def drawn_here(slug: str, panel_work_id: int) -> list[PanelNote]:
    """One query where no trial is drawn."""
    rows = list(
        Draw.objects.filter(place__piece__panel_work_id=panel_work_id).select_related(
            "trial", "shop", "place", "job__vehicle"
        )
    )
    if not rows:
        return []
    catalogue = ShopCatalogue(rows[0].shop)
    return [_note(slug, draw, catalogue) for draw in rows]


def _note(slug: str, draw: Draw, catalogue: ShopCatalogue) -> PanelNote:
    where, what = first_upper(drawn_place_words(draw, catalogue)), arm_words(draw.trial, value_of_arm(draw))
    said = (
        {
            Draw.DoneAs.DRAWN: _("%(where)s: %(what)s. Done as drawn."),
            Draw.DoneAs.OTHER: _("%(where)s: drawn was %(what)s. Done the other way."),
        }.get(Draw.DoneAs(draw.done_as), "")
        if draw.done_as
        else _("%(where)s: %(what)s.")
    )
    return PanelNote(
        title=_("Trial %(number)s, pair %(pair)s") % {"number": draw.trial.number, "pair": draw.pair},
        words=said % {"where": where, "what": what},
        act_url="" if draw.done_as else reverse("draw-done", args=[slug, draw.pk]),
        url=reverse("trial", args=[slug, draw.trial_id]),
    )
