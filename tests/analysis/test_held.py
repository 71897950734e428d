"""Claims are made once a month; looking in between can only take one away."""

from dataclasses import replace

import numpy as np
import pytest

from shopwarranty.analysis.bands import CHECK_BANDS
from shopwarranty.analysis.family import effects_of
from shopwarranty.analysis.held import claims_of, held
from shopwarranty.analysis.questions import Question
from shopwarranty.analysis.results import Effect
from shopwarranty.analysis.verdicts import Phrase, Reason, Verdict
from tests.bench.simulator import Scenario, simulate

CALM = Scenario(vehicles=250, heat_ratio=3.0, cold_ratio=1.0, installer_ratios=(1.0, 1.0, 1.0), idle=2)


@pytest.fixture(scope="module")
def effects() -> tuple[Effect, ...]:
    """Post-heat triples the hazard and is claimed; two factors do nothing."""
    shop = simulate(CALM, np.random.default_rng(5))
    asked = Question(
        shop.lives,
        shop.named("panel", "place", "installer", "heated", "idle 0", "idle 1"),
        ("heated", "idle 0", "idle 1"),
        ("panel", "place", "installer"),
    )
    found = effects_of(asked, CHECK_BANDS)
    assert [e.verdict.claimed for e in found] == [True, False, False]
    return found


def test_the_same_record_says_the_same(effects: tuple[Effect, ...]) -> None:
    now = held(effects, claims_of(effects))
    assert now.effects == effects
    assert not now.waiting


def test_what_the_fixed_review_did_not_claim_waits_for_the_next(effects: tuple[Effect, ...]) -> None:
    now = held(effects, ())
    assert [e.verdict.phrase for e in now.effects if e.contrast.factor == "heated"] == [Phrase.NOT_YET]
    assert now.waiting == {("heated", "no", "yes")}
    assert now.effects[0].contrast == effects[0].contrast, "estimates are of today"


def test_a_claim_stands_while_the_comparison_alone_still_points_that_way(effects: tuple[Effect, ...]) -> None:
    claims = claims_of(effects)
    open_now = with_p(effects[0], 0.03)
    (now,) = held([open_now], claims).effects
    assert now.verdict.phrase is Phrase.MORE
    assert (now.q, now.holm) == (claims[0].q, claims[0].holm)
    assert now.contrast.p == 0.03


def test_a_claim_falls_when_it_no_longer_stands_or_turns_round(effects: tuple[Effect, ...]) -> None:
    claims = claims_of(effects)
    for now in (with_p(effects[0], 0.2), turned(effects[0])):
        (kept,) = held([now], claims).effects
        assert not kept.verdict.claimed


def test_what_makes_a_comparison_unfair_speaks_at_once(effects: tuple[Effect, ...]) -> None:
    """Tangled, too few expected, people staying away: no matter of how often somebody looks."""
    for reason in (Reason.MOVES_TOGETHER, Reason.TOO_FEW_EXPECTED, Reason.CALLBACKS_STAY_AWAY):
        gated = replace(effects[0], verdict=Verdict(Phrase.NOT_YET, reason))
        assert held([gated], claims_of(effects)).effects == (gated,)


def test_no_clear_difference_is_said_as_of_today(effects: tuple[Effect, ...]) -> None:
    alike = replace(effects[1], verdict=Verdict(Phrase.NO_DIFFERENCE, Reason.INTERVAL_INSIDE))
    assert held([alike], claims_of(effects)).effects == (alike,)


def test_looking_every_month_claims_no_more_than_the_months_reviews(effects: tuple[Effect, ...]) -> None:
    """Whatever the pages between say, the claims shown are among those of the fixed review."""
    shop = simulate(replace(CALM, heat_ratio=1.0), np.random.default_rng(9))
    names = ("panel", "place", "installer", "heated", "idle 0", "idle 1")
    claims = claims_of(effects)
    for days_ago in (300, 200, 100, 0):
        lives = shop.record.lives(days_ago=days_ago)
        asked = Question(lives, shop.named(*names), names[3:], names[:3])
        shown = {
            e.contrast.factor
            for e in held(effects_of(asked, CHECK_BANDS), claims).effects
            if e.verdict.claimed
        }
        assert shown <= {"heated"}


def with_p(effect: Effect, p: float) -> Effect:
    undecided = Verdict(Phrase.NOT_YET, Reason.INTERVAL_OPEN)
    return replace(effect, contrast=replace(effect.contrast, p=p), verdict=undecided, q=0.3, holm=0.5)


def turned(effect: Effect) -> Effect:
    contrast = replace(effect.contrast, log_ratio=-effect.contrast.log_ratio)
    return replace(effect, contrast=contrast, verdict=Verdict(Phrase.FEWER, Reason.SIGNIFICANT))
