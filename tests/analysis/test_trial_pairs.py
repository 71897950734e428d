"""What looks at pairs say, the draw, files of several shops, and arms not looked at together."""

import json
from dataclasses import replace
from math import inf

import numpy as np
import pytest

from shopwarranty.analysis.trial_draw import other_comes_first
from shopwarranty.analysis.trial_pairs import Look, Outcome, PairResult, answer, judge_pair
from shopwarranty.analysis.trial_pooling import (
    NotTheSameTrial,
    TrialFile,
    UnreadableFile,
    pool,
    read_file,
    write_file,
)
from shopwarranty.analysis.trial_sequence import Plan
from shopwarranty.analysis.trial_strata import Stratum, stratified_score

from .reference import case

QUESTION = {
    "field": "post_heated",
    "usual_value": "True",
    "other_value": "False",
    "unit": "sides",
    "defect_kinds": ["edge-lift"],
}


def a_file(key: str, seed: int, pairs: int = 60) -> TrialFile:
    rng = np.random.default_rng(seed)
    kinds = [Outcome.OTHER, Outcome.USUAL, Outcome.NEITHER, Outcome.BOTH, Outcome.OPEN]
    drawn = [kinds[k] for k in rng.choice(5, pairs, p=[0.3, 0.1, 0.4, 0.1, 0.1])]
    results = tuple(
        PairResult(n, o, None if o is Outcome.OPEN else int(rng.integers(14, 200)))
        for n, o in enumerate(drawn)
    )
    return TrialFile(key, QUESTION, 180, seed, Plan(80), results)


def test_the_first_common_look_that_tells_the_halves_apart_settles_a_pair() -> None:
    looks = [Look(90, True, True), Look(14, True, False), Look(0, False, False)]
    assert judge_pair(looks, 90) == (Outcome.OTHER, 14)
    assert judge_pair([Look(14, False, True)], 90) == (Outcome.USUAL, 14)
    assert judge_pair([Look(14, True, True)], 90) == (Outcome.BOTH, 14)


def test_a_half_nobody_looked_at_is_not_clean() -> None:
    assert judge_pair([Look(95, True, None), Look(95, None, False)], 90) == (Outcome.OPEN, None)


def test_clean_closes_a_pair_only_at_the_day_that_counts_and_late_looks_say_nothing() -> None:
    assert judge_pair([Look(89, False, False)], 90) == (Outcome.OPEN, None)
    assert judge_pair([Look(92, False, False)], 90) == (Outcome.NEITHER, 92)
    assert judge_pair([Look(92, True, False)], 90) == (Outcome.OTHER, 92)
    assert judge_pair([Look(400, True, False)], 90) == (Outcome.OPEN, None)


def test_the_draw_follows_from_the_seed_and_is_fair() -> None:
    drawn = [other_comes_first(7, pair) for pair in range(10_000)]
    assert drawn == [other_comes_first(7, pair) for pair in range(10_000)]
    assert abs(sum(drawn) - 5000) < 4 * 50
    assert drawn != [other_comes_first(8, pair) for pair in range(10_000)]


def test_the_draw_is_sha256_of_seed_and_pair() -> None:
    """First bytes of `printf 7:0 | sha256sum` and so on (coreutils)."""
    from subprocess import run

    for pair in range(8):
        digest = run(["sha256sum"], input=f"7:{pair}".encode(), capture_output=True, check=True).stdout
        assert other_comes_first(7, pair) == (int(digest[:2], 16) % 2 == 1)


def test_a_file_read_again_gives_the_same_answer_to_the_digit() -> None:
    file = a_file("a", 1)
    again = read_file(write_file(file))
    assert again == file
    assert answer(again.pairs, again.plan) == answer(file.pairs, file.plan)
    assert write_file(again) == write_file(file)


def test_pooling_reproduces_each_shop_and_does_not_mind_the_order() -> None:
    files = [read_file(write_file(a_file(key, n))) for n, key in enumerate("abc")]
    pooled = pool(files)
    assert pooled == pool(files[::-1])
    for file, alone in pooled.each:
        assert alone == answer(file.pairs, file.plan)
    assert pooled.together.pairs == 180
    assert pooled.together.settled == sum(each.settled for _, each in pooled.each)
    assert pool(files[:1]).together.once == answer(files[0].pairs, files[0].plan).once


def test_shops_that_agree_are_told_from_shops_that_do_not() -> None:
    """Pearson's chi-square by scipy.stats."""
    from scipy.stats import chi2_contingency

    files = [a_file("a", 1), a_file("b", 2)]
    table = [[sum(p.outcome is o for p in f.pairs) for o in (Outcome.OTHER, Outcome.USUAL)] for f in files]
    wanted = chi2_contingency(table, correction=False).pvalue
    assert pool(files).agree_p == pytest.approx(wanted, rel=1e-9)
    assert pool(files[:1]).agree_p is None


def test_other_questions_and_the_same_file_twice_are_not_pooled() -> None:
    one = a_file("a", 1)
    with pytest.raises(NotTheSameTrial):
        pool([one, one])
    with pytest.raises(NotTheSameTrial):
        pool([one, replace(a_file("b", 2), by_day=90)])


@pytest.mark.parametrize(
    "content",
    [
        b"",
        b"[]",
        b"{}",
        b'"film-trial"',
        b"\xff\xfe",
        b"[" * 100_000,
        json.dumps({"format": "film-trial", "version": 2}).encode(),
    ],
)
def test_other_files_are_refused_by_name(content: bytes) -> None:
    with pytest.raises(UnreadableFile):
        read_file(content)


@pytest.mark.parametrize(
    ("part", "value"),
    [
        ("pairs", [[1, "other", None]]),
        ("pairs", [[1, "open", None], [1, "open", None]]),
        ("pairs", [[1, "perhaps", 3]]),
        ("plan", {"most": 10**9, "ratio": 2, "alpha": 0.05}),
        ("question", {}),
        ("by_day", None),
    ],
)
def test_damaged_parts_are_refused(part: str, value: object) -> None:
    content = json.loads(write_file(a_file("a", 1)))
    content[part] = value
    with pytest.raises(UnreadableFile):
        read_file(json.dumps(content).encode())


def test_fay_and_shaws_published_statistic_is_one_stratums_score() -> None:
    rows, expected = (case("e_open_bcos_tests")[k] for k in ("data", "expected"))
    right = np.array([inf if r is None else r for r in rows["right"]])
    stratum = Stratum(np.array(rows["left"], float), right, np.array(rows["radchem"], float))
    found, wanted = stratified_score([stratum]), expected["full_precision"]["logrank2_finkelstein"]
    assert found.score == pytest.approx(wanted["U_group1"], abs=1e-5)
    assert found.z == pytest.approx(wanted["Z"], abs=1e-6)
    assert found.p == pytest.approx(wanted["p"], abs=1e-6)
    twice = stratified_score([stratum, stratum])
    assert twice.z == pytest.approx(found.z * 2**0.5)


def test_a_stratum_of_one_arm_or_without_failures_adds_nothing() -> None:
    alone = Stratum(np.array([5.0, 0.0]), np.array([inf, 4.0]), np.ones(2))
    clean = Stratum(np.array([5.0, 9.0]), np.array([inf, inf]), np.array([0.0, 1.0]))
    assert stratified_score([alone, clean]).p == 1.0
