"""The whole review on planted stories, and its JSON."""

import json
from dataclasses import replace

import numpy as np
import pytest

from shopwarranty.analysis.exposure import Lives, edge_days, lives_of
from shopwarranty.analysis.flat_file import read_question
from shopwarranty.analysis.questions import Question, factor_of
from shopwarranty.analysis.results import NoticeKind, Review
from shopwarranty.analysis.review import analyse
from shopwarranty.analysis.review_json import as_object, to_json
from shopwarranty.analysis.verdicts import Phrase

from .worlds import constant_world, seen_at_checks

YES_NO = ("no", "yes")


def stories(seed: int = 101, vehicles: int = 500) -> Question:
    """Skipped heat triples the hazard; `cold` and `old film` are nearly one factor; the rest is idle."""
    rng = np.random.default_rng(seed)
    size = vehicles * 20
    cluster = np.repeat(np.arange(vehicles), 20)
    panel = np.tile(np.arange(20) // 4, vehicles)
    installer = rng.integers(0, 2, vehicles)[cluster]
    heated = (rng.random(size) < 0.8).astype(int)
    cold = (rng.random(vehicles) < 0.3)[cluster]
    twin = np.where((rng.random(vehicles) < 0.03)[cluster], ~cold, cold)
    hazard = 6e-5 * np.where(heated, 1, 3) * np.where(cold, 2, 1) * rng.gamma(4, 0.25, vehicles)[cluster]
    lives = seen_at_checks(rng.exponential(1 / hazard), cluster, rng)
    factors = (
        factor_of("panel", panel, ("bonnet", "door", "mirror", "roof", "sill")),
        factor_of("installer", installer, ("A", "B")),
        factor_of("heated", heated, YES_NO),
        factor_of("cold bay", cold.astype(int), YES_NO),
        factor_of("old film", twin.astype(int), YES_NO),
        factor_of("left side", rng.integers(0, 2, size), YES_NO),
        factor_of("rinsed", np.where(rng.random(size) < 0.3, -1, rng.integers(0, 2, size)), YES_NO),
    )
    claimed = ("heated", "cold bay", "old film", "left side", "rinsed")
    return Question(lives, factors, claimed, ("panel", "installer"))


@pytest.fixture(scope="module")
def review() -> Review:
    return analyse(stories(), seed=7)


def words(review: Review) -> dict[str, str]:
    return {e.contrast.factor: e.verdict.words for e in review.effects}


def test_the_clear_story_is_claimed_the_tangled_pair_named_and_nothing_else(review: Review) -> None:
    said = words(review)
    assert said["heated"] == "goes with more failures"
    assert said["cold bay"] == "cannot be told apart from old film"
    assert said["old film"] == "cannot be told apart from cold bay"
    assert {said["left side"], said["rinsed"]} <= {"no clear difference", "cannot tell yet"}
    assert [e.contrast.factor for e in review.headline] == ["heated"]


def test_the_pair_is_claimed_by_its_joint_test(review: Review) -> None:
    pair = [e for e in review.effects if e.verdict.phrase is Phrase.TANGLED]
    assert all(e.joint_p is not None and e.joint_p < 1e-4 for e in pair)
    assert all(e.joint_p is None for e in review.effects if e not in pair)


def test_the_hazard_ratio_is_found_again(review: Review) -> None:
    heated = next(e for e in review.effects if e.contrast.factor == "heated")
    low, high = heated.contrast.interval()
    assert low < 3 < high
    assert heated.crude_ratio == pytest.approx(3, rel=0.4)
    assert heated.stratified_ratio == pytest.approx(3, rel=0.4)
    assert heated.more_edges is None


def test_totals_are_totals_of_the_lives(review: Review) -> None:
    lives = stories().lives
    assert (review.rows, review.clusters, review.failures) == (10_000, 500, lives.found.sum())
    assert review.edge_days == pytest.approx(edge_days(lives).sum())
    for _, figures in review.groups:
        assert sum(f.failures for f in figures) == review.failures
        assert sum(f.edges for f in figures) + review.never_seen == review.rows
        assert sum(f.edge_days for f in figures) == pytest.approx(review.edge_days)


def test_what_was_not_recorded_has_a_line_of_its_own_and_no_verdict(review: Review) -> None:
    rinsed = dict(review.groups)["rinsed"]
    assert [f.level for f in rinsed] == ["no", "yes", "not recorded"]
    assert [e.contrast.level for e in review.effects if e.contrast.factor == "rinsed"] != ["not recorded"]
    assert NoticeKind.NOT_RECORDED in {n.kind for n in review.notices}


def test_the_same_seed_gives_the_same_bytes_and_order_of_lives_does_not_matter() -> None:
    question = stories(vehicles=120)
    order = np.random.default_rng(3).permutation(len(question.lives))
    moved = replace(
        question, lives=question.lives.only(order), factors=tuple(f.only(order) for f in question.factors)
    )
    one, again, other = (analyse(q, seed=5) for q in (question, question, moved))
    assert to_json(one) == to_json(again)
    for a, b in zip(one.effects, other.effects, strict=True):
        assert a.contrast.log_ratio == pytest.approx(b.contrast.log_ratio, abs=1e-8)
        assert a.verdict == b.verdict


def test_numbering_vehicles_otherwise_changes_nothing() -> None:
    question = stories(vehicles=120)
    lives = question.lives
    renamed = Lives(lives.entry, lives.clean, lives.failed, 5000 - 7 * lives.cluster)
    one, other = analyse(question, seed=5), analyse(replace(question, lives=renamed), seed=5)
    assert [e.contrast.p for e in one.effects] == pytest.approx(
        [e.contrast.p for e in other.effects], rel=1e-6
    )


def test_a_second_analysis_that_disagrees_is_said() -> None:
    question = stories(vehicles=300)
    lives = question.lives
    heated = {f.name: f for f in question.factors}["heated"]
    hide = lives.found & (heated.codes == 0) & (np.arange(len(lives)) % 3 > 0)
    fewer = Lives(lives.entry, lives.clean, np.where(hide, -1, lives.failed), lives.cluster)
    found = analyse(replace(question, lives=fewer, everything=lives), seed=1)
    heated_effect = next(e for e in found.effects if e.contrast.factor == "heated")
    assert heated_effect.with_callbacks is not None
    assert heated_effect.with_callbacks.phrase is Phrase.MORE
    assert heated_effect.depends_on_callbacks
    assert NoticeKind.DEPENDS_ON_CALLBACKS in {n.kind for n in found.notices}


def test_without_a_second_analysis_nothing_depends_on_it(review: Review) -> None:
    assert not any(e.depends_on_callbacks for e in review.effects)


def test_people_who_stay_away_silence_what_an_owner_can_see() -> None:
    question = replace(stories(), attendance_ratio=0.7, seen_by_owner=frozenset({"heated"}))
    found = analyse(question, seed=1)
    assert words(found)["heated"] == "cannot tell yet"
    assert NoticeKind.CALLBACKS_STAY_AWAY in {n.kind for n in found.notices}


def test_a_world_without_failures_says_so_and_compares_nothing() -> None:
    lives = lives_of([0, 0, 0], [14, 90, -1], [-1] * 3, [1, 2, 2])
    question = Question(lives, (factor_of("x", np.array([0, 1, 1]), YES_NO),), ("x",))
    found = analyse(question, seed=1)
    assert found.effects == ()
    assert {n.kind for n in found.notices} == {NoticeKind.NOTHING_FAILED, NoticeKind.NEVER_SEEN}
    json.loads(to_json(found))


def test_late_entry_leaves_the_steps_out_with_a_notice() -> None:
    lives = lives_of([0, 40, 0], [14, 90, 14], [-1, 365, 90], [1, 2, 3])
    found = analyse(Question(lives, (), ()), seed=1)
    assert found.npmle == ()
    assert NoticeKind.LATE_ENTRY in {n.kind for n in found.notices}


def test_a_lot_of_many_levels_is_ranked_and_not_compared() -> None:
    lives = constant_world(111, rate=5e-4)
    lots = factor_of("lot", lives.cluster % 30, tuple(f"L{k:02}" for k in range(30)))
    found = analyse(Question(lives, (lots,), ("lot",)), seed=1)
    assert found.effects == ()
    assert len(dict(found.groups)["lot"]) == 30
    assert NoticeKind.MANY_LEVELS in {n.kind for n in found.notices}


def test_a_sign_that_turns_beside_the_installer_is_warned_of() -> None:
    """B works more carefully, heats less and fails less; within each, skipped heat fails more."""
    rng = np.random.default_rng(112)
    size = 16_000
    cluster = np.repeat(np.arange(800), 20)
    installer = (cluster % 2).astype(int)
    heated = (rng.random(size) < np.where(installer == 0, 0.9, 0.15)).astype(int)
    hazard = 1.2e-3 * np.where(installer, 0.12, 1) * np.where(heated, 1, 1.7)
    lives = seen_at_checks(rng.exponential(1 / hazard), cluster, rng)
    factors = (factor_of("installer", installer, ("A", "B")), factor_of("heated", heated, YES_NO))
    found = analyse(Question(lives, factors, ("heated",), ("installer",)), seed=1)
    assert NoticeKind.SIGN_TURNS in {n.kind for n in found.notices}
    effect = found.effects[0]
    assert effect.crude_ratio is not None
    assert effect.stratified_ratio is not None
    assert (effect.crude_ratio > 1) != (effect.stratified_ratio > 1)


def test_every_notice_reads_as_a_sentence_with_its_numbers(review: Review) -> None:
    for notice in review.notices:
        assert "{" not in notice.words
        assert notice.words.endswith(".")


def test_the_json_has_the_documented_keys(review: Review) -> None:
    found = json.loads(to_json(review))
    assert list(found) == [
        "rows", "clusters", "failures", "edge_days", "npmle", "cumulative", "groups", "effects", "warnings",
    ]  # fmt: skip
    assert set(found["npmle"][0]) == {"from", "to", "mass"}
    assert found["npmle"][-1]["to"] is None
    assert [c["day"] for c in found["cumulative"]] == [14, 90, 365, 730]
    assert set(found["cumulative"][0]) == {"day", "estimate", "low", "high"}
    assert set(found["groups"]["panel"][0]) == {
        "level", "edges", "failures", "edge_days", "rate", "low", "high",
        "shrunken", "shrunken_low", "shrunken_high", "p_worst3",
    }  # fmt: skip
    assert set(found["effects"][0]) == {
        "factor", "level", "reference", "hazard_ratio", "low", "high", "p", "q", "crude_ratio",
        "stratified_ratio", "verdict", "more_edges_needed", "edges", "failures",
    }  # fmt: skip
    assert sum(m["mass"] for m in found["npmle"]) == pytest.approx(1, abs=1e-5)


def test_a_flat_file_gives_the_same_review_as_its_arrays() -> None:
    question = stories(vehicles=60)
    header = ["cluster", "clean_day", "failed_day", *(f.name for f in question.factors)]
    rows = [",".join(header)]
    for i in range(len(question.lives)):
        days = [question.lives.clean[i], question.lives.failed[i]]
        cells = [str(question.lives.cluster[i]), *("" if d < 0 else str(d) for d in days)]
        levels = [f.levels[f.codes[i]] for f in question.factors]
        rows.append(",".join([*cells, *("" if level == "not recorded" else level for level in levels)]))
    asked = read_question("\n".join(rows), list(question.claimed), list(question.adjustment))
    one, other = as_object(analyse(question, seed=3)), as_object(analyse(asked, seed=3))
    assert one == other
