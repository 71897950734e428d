"""When a finding counts as a failure. The kinds and their grading are common practice, no source."""

import pytest

from shopwarranty.trade import defects, words
from shopwarranty.trade.defects import Counts, Measure, Outcome
from shopwarranty.trade.panels import PlaceKind
from shopwarranty.trade.words import FilmFamily

CLEAR, VINYL = FilmFamily.CLEAR_PROTECTIVE, FilmFamily.COLOUR_CHANGE


@pytest.mark.parametrize(("severity", "failed"), [(0, False), (1, False), (2, True), (3, True), (4, True)])
def test_an_edge_lift_is_a_failure_from_visible_at_a_metre_on(severity: int, failed: bool) -> None:
    assert defects.is_failure("edge-lift", "edge", CLEAR, severity) is failed


def test_below_the_shops_line_it_is_watched() -> None:
    assert defects.outcome("edge-lift", "edge", CLEAR, 2, line=3) is Outcome.WATCH
    assert defects.outcome("edge-lift", "edge", CLEAR, 3, line=3) is Outcome.FAILURE


@pytest.mark.parametrize("kind", ["impact-damage", "stone-chip", "scratch", "user-damage"])
def test_impact_and_owner_damage_is_never_a_failure_however_bad(kind: str) -> None:
    for place in PlaceKind:
        assert not defects.is_failure(kind, place, VINYL, 4)
        assert defects.outcome(kind, place, VINYL, 4) is Outcome.OUTSIDE


@pytest.mark.parametrize("kind", ["pre-existing", "paint-lift", "gloss-loss", "residue", "stain"])
def test_what_says_nothing_about_the_work_is_only_noted(kind: str) -> None:
    for place in PlaceKind:
        assert defects.outcome(kind, place, CLEAR, 4) is Outcome.NOTED


def test_a_seam_gap_counts_at_a_seam_only() -> None:
    assert defects.is_failure("seam-gap", "seam", VINYL, 2)
    assert not defects.is_failure("seam-gap", "field", VINYL, 2)


def test_an_adhesive_line_counts_for_protective_film_and_not_for_opaque_vinyl() -> None:
    assert defects.is_failure("adhesive-line", "field", CLEAR, 2)
    assert not defects.is_failure("adhesive-line", "field", VINYL, 2)


def test_a_place_left_short_on_purpose_has_not_failed_by_being_short() -> None:
    assert defects.is_failure("misalignment", "edge", CLEAR, 2)
    assert not defects.is_failure("misalignment", "edge", CLEAR, 2, left_short=True)
    assert defects.is_failure("edge-lift", "edge", CLEAR, 2, left_short=True)


def test_film_over_a_sensor_is_always_as_grave_as_it_gets() -> None:
    assert defects.severity_of("covered-feature", 1) == 4
    assert defects.is_failure("covered-feature", "field", CLEAR, 1, line=4)
    assert defects.severity_of("covered-feature", 0) == 0


def test_a_kind_nobody_could_name_still_counts() -> None:
    assert defects.is_failure("other", "edge", VINYL, 2)


def test_impossible_levels_places_and_kinds_are_refused() -> None:
    with pytest.raises(ValueError, match="severity 5"):
        defects.is_failure("edge-lift", "edge", CLEAR, 5)
    with pytest.raises(ValueError, match="line 0"):
        defects.is_failure("edge-lift", "edge", CLEAR, 2, line=0)
    with pytest.raises(ValueError, match="porthole"):
        defects.is_failure("edge-lift", "porthole", CLEAR, 2)
    with pytest.raises(ValueError, match="paint"):
        defects.is_failure("edge-lift", "edge", "paint", 2)
    with pytest.raises(defects.UnknownDefectKind, match="rust"):
        defects.is_failure("rust", "edge", CLEAR, 2)


def test_edge_and_corner_lift_are_graded_by_length_and_depth_and_bubbles_by_count_and_diameter() -> None:
    assert defects.kind("edge-lift").graded_by == (Measure.LENGTH, Measure.DEPTH)
    assert defects.kind("air-bubble").graded_by == (Measure.COUNT, Measure.DIAMETER)
    assert defects.kind("covered-feature").graded_by == (Measure.PRESENT,)


def test_every_place_is_offered_kinds_and_every_kind_is_offered_somewhere() -> None:
    offered = {k.key for place in PlaceKind for k in defects.kinds_for(place)}
    assert offered == {k.key for k in defects.KINDS}
    assert defects.kinds_for("edge")[0].key == "edge-lift"
    assert "tenting" in [k.key for k in defects.kinds_for("recess")]


def test_counting_kinds_are_exactly_those_that_make_a_failure() -> None:
    for place in PlaceKind:
        for family in FilmFamily:
            counting = {k.key for k in defects.counting_kinds(place, family)}
            failing = {k.key for k in defects.KINDS if defects.is_failure(k.key, place, family, 4)}
            assert counting == failing


def test_usual_causes_are_known_causes_and_keys_are_unique() -> None:
    known = words.keys(words.CAUSES)
    assert all(cause in known for k in defects.KINDS for cause in k.causes)
    assert len({k.key for k in defects.KINDS}) == len(defects.KINDS)
    assert {k.counts for k in defects.KINDS} == set(Counts)


def test_severities_are_zero_to_four() -> None:
    assert [s.level for s in defects.SEVERITIES] == [0, 1, 2, 3, 4]
