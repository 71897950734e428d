"""What the draw says, shown where the work is done: at the panel, and at the job where that was drawn."""

from collections.abc import Sequence

from django.db.models import F, Q
from django.urls import reverse
from django.utils.translation import gettext as _

from shopwarranty.jobs.models import PanelWork
from shopwarranty.jobs.panel_notes import PanelNote
from shopwarranty.jobs.shop_catalogue import ShopCatalogue
from shopwarranty.trade.technique import FieldKind
from shopwarranty.web.trade_names import first_upper

from .doing import value_of_arm
from .models import Draw, Trial, TrialUnit
from .planning import fits
from .technique import technique_of
from .words import arm_words, drawn_words

WITH = ("trial", "shop", "place", "job__vehicle")


def drawn_here(slug: str, panel_work_id: int) -> list[PanelNote]:
    """One query where no trial is drawn."""
    wide = Q(place__isnull=True, job__panels=panel_work_id)
    own = Q(place__piece__panel_work_id=panel_work_id)
    named = wide & (Q(panel="") | Q(panel=F("job__panels__panel")))
    rows = list(Draw.objects.filter(own | named).select_related(*WITH).distinct())
    if any(not row.panel for row in rows):
        panel = PanelWork.objects.values_list("panel", flat=True).get(pk=panel_work_id)
        rows = [row for row in rows if row.panel or fits(row.trial.panels, panel)]
    return _notes(slug, rows)


def drawn_on(slug: str, job_id: int) -> list[PanelNote]:
    """Whole jobs that were drawn; one query where none is."""
    return _notes(slug, list(Draw.objects.filter(job=job_id, panel="").select_related(*WITH)))


def _notes(slug: str, rows: Sequence[Draw]) -> list[PanelNote]:
    if not rows:
        return []
    catalogue = ShopCatalogue(rows[0].shop)
    trials: dict[int, Trial] = {}
    for row in rows:
        row.trial = trials.setdefault(row.trial_id, row.trial)
    return [_note(slug, draw, catalogue) for draw in rows]


def _note(slug: str, draw: Draw, catalogue: ShopCatalogue) -> PanelNote:
    where, what = first_upper(drawn_words(draw, catalogue)), arm_words(draw.trial, value_of_arm(draw))
    said = {
        "": _("%(where)s: %(what)s."),
        Draw.DoneAs.DRAWN: _("%(where)s: %(what)s. Done as drawn."),
        Draw.DoneAs.OTHER: _("%(where)s: drawn was %(what)s. Done the other way."),
        Draw.DoneAs.NEITHER: _("%(where)s: drawn was %(what)s. Done otherwise, neither way."),
    }[draw.done_as]
    number = {"number": draw.trial.number, "pair": draw.pair}
    of_jobs = draw.trial.unit == TrialUnit.JOBS
    title = _("Trial %(number)s, job %(pair)s") if of_jobs else _("Trial %(number)s, pair %(pair)s")
    return PanelNote(
        title=title % number,
        words=said % {"where": where, "what": what},
        act_url="" if draw.done_as else reverse("draw-done", args=[slug, draw.pk]),
        url=reverse("trial", args=[slug, draw.trial_id]),
        act_words=_("Left as it is, to learn") if leaves_a_step_out(draw) else _("Done as drawn"),
    )


def leaves_a_step_out(draw: Draw) -> bool:
    """Nowhere but here may somebody leave out what the method wants, in order to learn."""
    trial = draw.trial
    yes_no = technique_of(trial).kind is FieldKind.YES_NO
    return draw.arm == Draw.Arm.OTHER and trial.less_careful and yes_no and trial.other_value == "no"
