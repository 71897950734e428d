"""A trial in sentences. Here, and only here, the words may be causal: the tool drew who got which arm."""

from dataclasses import dataclass
from math import inf

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from shopwarranty.analysis.proportions import Interval
from shopwarranty.analysis.trial_blocks import JobsAnswer
from shopwarranty.analysis.trial_pairs import Answer
from shopwarranty.analysis.trial_sequence import Said
from shopwarranty.jobs.shop_catalogue import ShopCatalogue
from shopwarranty.jobs.technique_rows import from_text
from shopwarranty.jobs.words import phrase
from shopwarranty.trade.technique import Level

from .models import Draw, Trial, TrialState, TrialUnit
from .planning import Forecast
from .results import JobsDone
from .technique import technique_of

Z95 = 1.959963984540054


def arm_words(trial: Trial, value: str) -> str:
    """ "not post-heated", "2 passes", in the shop's units."""
    field = technique_of(trial)
    return phrase(field, from_text(field, value), trial.shop)


def drawn_words(draw: Draw, catalogue: ShopCatalogue) -> str:
    """The place, the panel, or that it is the whole job."""
    body = draw.job.vehicle.body_style
    if not draw.panel:
        return _("the whole job")
    panel = catalogue.panel_name(body, draw.panel)
    if not draw.place_key:
        return panel
    return f"{panel}, {catalogue.place_name(body, draw.panel, draw.place_key)}"


def answer_words(trial: Trial, answer: Answer | JobsAnswer) -> str:
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


def done_words(trial: Trial, done: Answer | JobsDone) -> str:
    """By what was really done. Whole jobs are chosen then, not drawn: that is told without a verdict."""
    if isinstance(done, Answer):
        return answer_words(trial, done)
    return _("What was done was chosen, not drawn: these figures stand beside the answer and prove nothing.")


def ratio_words(ratio: float | None) -> str:
    if ratio is None:
        return "–"
    return "∞" if ratio == inf else figure(ratio)


def figure(value: float) -> str:
    """Two digits are as much as a ratio of few failures says."""
    return f"{value:.2g}" if value < 100 else f"{value:.0f}"


def interval_words(interval: Interval) -> str:
    low, high = figure(interval.low), figure(interval.high)
    if interval.low <= 0 and interval.high == inf:
        return _("nothing is ruled out yet")
    if interval.low <= 0:
        return _("at most %(high)s") % {"high": high}
    if interval.high == inf:
        return _("at least %(low)s") % {"low": low}
    return _("%(low)s to %(high)s") % {"low": low, "high": high}


def p_words(p: float) -> str:
    if p < 0.001:
        return _("less than 0.001")
    return f"{p:.3f}" if p < 0.1 else f"{p:.2f}"


@dataclass(frozen=True, slots=True)
class Line:
    label: str
    value: str


def answer_lines(answer: Answer | JobsAnswer | JobsDone) -> list[Line]:
    if isinstance(answer, Answer):
        return _lines_of_pairs(answer)
    return _lines_of_jobs(answer) if isinstance(answer, JobsAnswer) else _lines_as_done(answer)


def _lines_of_pairs(answer: Answer) -> list[Line]:
    once, counts = answer.once, answer.standing.counts
    p = _("%(mid)s; %(exact)s") % {"mid": p_words(once.mid_p), "exact": p_words(once.exact_p)}
    return [
        Line(_("Pairs drawn"), str(answer.pairs)),
        Line(_("Pairs settled"), str(answer.settled)),
        Line(_("Only the other way failed"), str(counts.other)),
        Line(_("Only the usual way failed"), str(counts.usual)),
        Line(_("Both failed at the same visit"), str(answer.both)),
        Line(_("Neither failed"), str(answer.neither)),
        Line(_("Ratio, other to usual"), ratio_words(once.ratio)),
        Line(_("Interval that holds at every look"), interval_words(answer.standing.interval)),
        Line(_("p if looked at only once (mid-P; exact)"), p),
    ]


def _lines_of_jobs(answer: JobsAnswer) -> list[Line]:
    counts = answer.standing.counts
    return [
        Line(_("Jobs drawn"), str(answer.pairs)),
        Line(_("Jobs in closed blocks of four"), str(answer.settled)),
        Line(_("Failed, the other way"), str(counts.other)),
        Line(_("Failed, as usual"), str(counts.usual)),
        Line(_("Ratio, other to usual"), ratio_words(answer.standing.ratio)),
        Line(_("Interval that holds at every look"), interval_words(answer.standing.interval)),
        Line(_("p if looked at only once"), p_words(answer.once.p)),
    ]


def _lines_as_done(done: JobsDone) -> list[Line]:
    low, high = done.once.ratio(-Z95), done.once.ratio(Z95)
    interval = "–" if low is None or high is None else interval_words(Interval(low, high))
    of = _("%(failed)s of %(jobs)s")
    return [
        Line(_("Failed, the other way"), of % {"failed": done.failed.other, "jobs": done.other}),
        Line(_("Failed, as usual"), of % {"failed": done.failed.usual, "jobs": done.usual}),
        Line(_("Ratio, other to usual"), ratio_words(done.once.ratio())),
        # xgettext:no-python-format
        Line(_("95 % interval, looked at only once"), interval),
        Line(_("p if looked at only once"), p_words(done.once.p)),
    ]


def plan_words(forecast: Forecast) -> str:
    """What the trial would take, or that nobody will ever know."""
    plan, of_jobs = forecast.outlook, forecast.unit == TrialUnit.JOBS
    if forecast.usual_fails is None:
        return _never_failed(of_jobs)
    share = _share_words(forecast) % {"share": f"{100 * forecast.usual_fails:.2g}"}
    pace = f"{forecast.pairs_a_month:.2g}"
    if plan.pairs is None or plan.months is None:
        need = _never_words(of_jobs) % {"n": plan.pairs or "–", "pace": pace}
        return f"{share} {need}"
    months = max(1, round(plan.months))
    return f"{share} {_take_words(of_jobs, months) % {'pairs': plan.pairs, 'n': months, 'pace': pace}}"


def _never_failed(of_jobs: bool) -> str:
    if of_jobs:
        return _(
            "You will never know at this pace: no failure of such places by that day is on record, so "
            "nothing says how many jobs it takes."
        )
    return _(
        "You will never know at this pace: no failure of such places by that day is on record, so "
        "nothing says how many pairs would differ."
    )


def _share_words(forecast: Forecast) -> str:
    if forecast.unit == TrialUnit.JOBS:
        return _(
            "On %(share)s %% of such jobs one of these places has failed by that day, on your own record."
        )
    if forecast.level is Level.PANEL:
        return _("On %(share)s %% of such panels a place has failed by that day, on your own record.")
    return _("%(share)s %% of such places have failed by that day on your own record.")


def _never_words(of_jobs: bool) -> str:
    if of_jobs:
        return _(
            "It takes about %(n)s jobs. You will never know at this pace. Your work offers %(pace)s jobs a "
            "month."
        )
    return _(
        "It takes about %(n)s pairs. You will never know at this pace. Your work offers %(pace)s pairs a "
        "month."
    )


def _take_words(of_jobs: bool, months: int) -> str:
    if of_jobs:
        return ngettext(
            "It takes about %(pairs)s jobs, and about %(n)s month at your pace of %(pace)s jobs a month.",
            "It takes about %(pairs)s jobs, and about %(n)s months at your pace of %(pace)s jobs a month.",
            months,
        )
    return ngettext(
        "It takes about %(pairs)s pairs, and about %(n)s month at your pace of %(pace)s pairs a month.",
        "It takes about %(pairs)s pairs, and about %(n)s months at your pace of %(pace)s pairs a month.",
        months,
    )
