"""Technique fields and what a shop method says for a panel or place. Common practice, no source."""

import json

import pytest

from shopwarranty.trade import method, technique, words
from shopwarranty.trade.method import Difference
from shopwarranty.trade.panels import PlaceKind
from shopwarranty.trade.technique import FieldKind, Level, TechniqueField, ValueRefused

# Cut edges heated in about two passes, recesses as a separate act: common practice, no source.
USUAL = {
    "job": {"decontaminated": True},
    "panel": {"washed": True, "laid": "wet", "hardware": "none"},
    "edge": {"post_heated": True, "passes": 2, "wrap_in_wanted_mm": 8},
    "recess": {"post_heated": True, "passes": 1},
    "panels": {
        "front-door": {"panel": {"hardware": "loosened"}, "places": {"handle": {"passes": 3}}},
        "left-front-door": {"edge": {"wrap_in_wanted_mm": 6}},
        "roof": {"edge": {"wrap_in_wanted_mm": None}},
    },
}


def test_panel_values_take_the_panels_own_before_the_methods() -> None:
    assert method.panel_values(USUAL, "bonnet")["hardware"] == "none"
    assert method.panel_values(USUAL, "right-front-door") == {
        "washed": True,
        "laid": "wet",
        "hardware": "loosened",
    }


def test_place_values_follow_the_kind_of_place() -> None:
    assert method.place_values(USUAL, "bonnet", "leading", PlaceKind.EDGE)["passes"] == 2
    assert method.place_values(USUAL, "bonnet", "line-left", PlaceKind.RECESS)["passes"] == 1
    assert method.place_values(USUAL, "bonnet", "field", PlaceKind.FIELD) == {}


def test_one_side_and_one_place_can_differ_from_the_rest() -> None:
    left = method.place_values(USUAL, "left-front-door", "window", "edge")
    right = method.place_values(USUAL, "right-front-door", "window", "edge")
    handle = method.place_values(USUAL, "left-front-door", "handle", "recess")
    assert (left["wrap_in_wanted_mm"], right["wrap_in_wanted_mm"]) == (6, 8)
    assert handle == {"post_heated": True, "passes": 3}


def test_none_takes_back_what_the_wider_part_said_and_nothing_is_made_up() -> None:
    roof = method.place_values(USUAL, "roof", "leading", "edge")
    assert "wrap_in_wanted_mm" not in roof
    assert roof["post_heated"] is True
    assert method.panel_values({}, "roof") == {}
    assert method.job_values(USUAL) == {"decontaminated": True}


def test_a_method_survives_json_unchanged() -> None:
    again = json.loads(json.dumps(USUAL))
    assert method.faults(again) == ()
    assert method.place_values(again, "left-front-door", "handle", "recess")["passes"] == 3


@pytest.mark.parametrize(
    ("values", "path", "reason"),
    [
        ({"edge": {"passes": "two"}}, "edge.passes", "a number is wanted"),
        ({"edge": {"passes": True}}, "edge.passes", "a number is wanted"),
        ({"edge": {"passes": 1.5}}, "edge.passes", "a whole number is wanted"),
        ({"edge": {"passes": -1}}, "edge.passes", "a number of at least 0 is wanted"),
        ({"edge": {"post_heated": "yes"}}, "edge.post_heated", "yes or no is wanted"),
        ({"edge": {"post_heat_c": float("nan")}}, "edge.post_heat_c", "a number is wanted"),
        ({"panel": {"laid": "damp"}}, "panel.laid", "one of dry, wet, mixed is wanted"),
        ({"panel": {"passes": 2}}, "panel.passes", "belongs to the place, not here"),
        ({"field": {"left_short": False}}, "field.left_short", "does not apply to a field"),
        ({"edge": {"polish": True}}, "edge.polish", "no such technique field"),
        ({"door": {}}, "door", "not a part of a method"),
        ({"edge": 2}, "edge", "fields with values are wanted"),
        ({"panels": []}, "panels", "panels with their values are wanted"),
        ({"panels": {"roof": 1}}, "panels.roof", "parts with values are wanted"),
        ({"panels": {"roof": {"job": {}}}}, "panels.roof.job", "belongs to the job, not to one panel"),
        (
            {"panels": {"roof": {"edge": {"passes": "x"}}}},
            "panels.roof.edge.passes",
            "a number is wanted",
        ),
        (
            {"panels": {"roof": {"places": {"leading": {"washed": True}}}}},
            "panels.roof.places.leading.washed",
            "no such technique field of a place",
        ),
        (
            {"panels": {"roof": {"places": {"leading": {"passes": "x"}}}}},
            "panels.roof.places.leading.passes",
            "a number is wanted",
        ),
    ],
)
def test_a_fault_in_a_method_is_named_with_its_place(
    values: dict[str, object], path: str, reason: str
) -> None:
    (fault,) = method.faults(values)
    assert (fault.path, fault.reason) == (path, reason)
    assert str(fault) == f"{path}: {reason}"


def test_all_faults_are_reported_at_once() -> None:
    assert len(method.faults({"edge": {"passes": "x", "primer": 1}, "panel": {"laid": 3}})) == 3


def test_a_field_the_shop_defined_is_accepted_where_the_shop_defined_it() -> None:
    lamp = TechniqueField("lamp_min", Level.PLACE, FieldKind.NUMBER, "lamp", technique.Unit.MINUTES)
    values = {"edge": {"lamp_min": 4}}
    assert method.faults(values, [lamp]) == ()
    assert method.faults(values)[0].reason == "no such technique field"
    assert method.place_values(values, "roof", "leading", "edge") == {"lamp_min": 4}


def test_a_value_not_recorded_is_no_difference() -> None:
    usual = {"post_heated": True, "passes": 2}
    assert method.differences(usual, {"post_heated": None, "passes": 2}) == ()
    assert method.differences(usual, {"post_heated": False, "primer": True}) == (
        Difference("post_heated", True, False),
        Difference("primer", None, True),
    )


def test_not_recorded_is_accepted_and_stays_none_for_every_field() -> None:
    assert all(technique.accept(field, None) is None for field in technique.FIELDS)


def test_a_refused_value_says_field_value_and_reason() -> None:
    with pytest.raises(ValueRefused, match="stretch: 'huge': one of none, low, medium, high is wanted"):
        technique.accept(technique.BY_KEY["stretch"], "huge")


def test_place_fields_depend_on_the_kind_of_place() -> None:
    edge = {f.key for f in technique.fields(Level.PLACE, PlaceKind.EDGE)}
    recess = {f.key for f in technique.fields(Level.PLACE, PlaceKind.RECESS)}
    field = {f.key for f in technique.fields(Level.PLACE, PlaceKind.FIELD)}
    assert {"post_heated", "wrap_in_wanted_mm", "left_short"} <= edge
    assert "wrap_in_wanted_mm" not in recess
    assert field == {"post_heated", "post_heat_c", "passes"}


def test_keys_and_words_of_every_list_are_unique() -> None:
    assert len(technique.BY_KEY) == len(technique.FIELDS)
    for group in words.LISTS:
        assert len(words.keys(group)) == len(group)
        assert len({words for _, words in words_of(group)}) == len(group)


def words_of(group: tuple[words.Choice | words.Cause | words.Remedy, ...]) -> tuple[tuple[str, str], ...]:
    return words.pairs(group)


def test_no_list_offers_not_recorded_as_if_it_were_a_value() -> None:
    assert not [w for w in words.all_words() if "not recorded" in w and "at the time" not in w]


def test_american_words_use_american_spelling() -> None:
    american = [c.words_us for group in words.LISTS for c in group if isinstance(c, words.Choice)]
    assert not [w for w in american if "colour" in w]
    assert words.words_for(words.FILM_FAMILIES, "clear-protective") == "clear protective film"
