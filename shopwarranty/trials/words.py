"""A trial in sentences. Here, and only here, the words may be causal: the tool drew who got which arm."""

from dataclasses import dataclass
from math import inf

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from shopwarranty.analysis.proportions import Interval
from shopwarranty.analysis.trial_pairs import Answer
from shopwarranty.analysis.trial_sequence import Said
from shopwarranty.jobs.shop_catalogue import ShopCatalogue
from shopwarranty.jobs.technique_rows import from_text
from shopwarranty.jobs.words import phrase
from shopwarranty.trade.technique import BY_KEY

from .models import Draw, Trial, TrialState
from .planning import Forecast


def arm_words(trial: Trial, value: str) -> str:
    """ "not post-heated", "passes 2"."""
    field = BY_KEY[trial.field]
    return phrase(field, from_text(field, value), trial.shop)


def drawn_place_words(draw: Draw, catalogue: ShopCatalogue) -> str:
    body = draw.job.vehicle.body_style
    panel = catalogue.panel_name(body, draw.panel)
    place = catalogue.place_name(body, draw.panel, draw.place_key)
    return f"{panel}, {place}"


def answer_words(trial: Trial, answer: Answer) -> str:
    """The heading of the answer page."""
    arms = {"other": arm_words(trial, trial.other_value), "usual": arm_words(trial, trial.usual_value)}
    said = answer.standing.said
    if said is Said.MORE:
        return _("Enough to say: %(other)s makes places fail more often than %(usual)s.") % arms
    if said is Said.FEWER:
        return _("Enough to say: %(other)s makes places fail less often than %(usual)s.") % arms
    if said is Said.NO_DIFFERENCE:
        return _("Enough to say: there is no difference that matters between the two ways.")
    if trial.state == TrialState.STOPPED:
        return _("Stopped: nothing can be said yet.")
    if said is Said.CANNOT_SAY:
        return _("Everything planned is seen, and it still cannot be told.")
    return _("Running: too early to say.")


def interval_words(interval: Interval) -> str:
    low = f"{interval.low:.2g}" if interval.low > 0 else "0"
    high = f"{interval.high:.2g}" if interval.high < inf else "∞"
    return _("%(low)s to %(high)s") % {"low": low, "high": high}


@dataclass(frozen=True, slots=True)
class Line:
    label: str
    value: str


def answer_lines(answer: Answer) -> list[Line]:
    once, counts = answer.once, answer.standing.counts
    ratio = "–" if once.ratio is None else ("∞" if once.ratio == inf else f"{once.ratio:.2g}")
    return [
        Line(_("Pairs drawn"), str(answer.pairs)),
        Line(_("Pairs settled"), str(answer.settled)),
        Line(_("Only the other way failed"), str(counts.other)),
        Line(_("Only the usual way failed"), str(counts.usual)),
        Line(_("Both failed at the same visit"), str(answer.both)),
        Line(_("Neither failed"), str(answer.neither)),
        Line(_("Ratio, other to usual"), ratio),
        Line(_("Interval that holds at every look"), interval_words(answer.standing.interval)),
        Line(_("p if looked at only once (mid-P; exact)"), f"{once.mid_p:.3g}; {once.exact_p:.3g}"),
    ]


def plan_words(forecast: Forecast) -> str:
    """What the trial would take, or that nobody will ever know."""
    plan = forecast.outlook
    if forecast.usual_fails is None:
        return _(
            "You will never know at this pace: no failure of such places by that day is on record, so "
            "nothing says how many pairs would differ."
        )
    share = _("%(share)s %% of such places have failed by that day on your own record.") % {
        "share": f"{100 * forecast.usual_fails:.2g}"
    }
    if plan.pairs is None or plan.months is None:
        pace = _("Your work offers %(pace)s pairs a month.") % {"pace": f"{forecast.pairs_a_month:.2g}"}
        need = _("It takes about %(n)s pairs. You will never know at this pace.") % {"n": plan.pairs or "–"}
        return f"{share} {need} {pace}"
    months = round(plan.months) or 1
    take = ngettext(
        "It takes about %(pairs)s pairs, and about %(n)s month at your pace of %(pace)s pairs a month.",
        "It takes about %(pairs)s pairs, and about %(n)s months at your pace of %(pace)s pairs a month.",
        months,
    ) % {"pairs": plan.pairs, "n": months, "pace": f"{forecast.pairs_a_month:.2g}"}
    return f"{share} {take}"
