"""The flat file: read strictly, every complaint with line and column."""

import numpy as np
import pytest

from shopwarranty.analysis.exposure import NEVER
from shopwarranty.analysis.flat_file import BadFile, read_question

GOOD = """cluster,clean_day,failed_day,panel,heated,temperature:number
v1,14,,roof,yes,20.5
v1,,14,door,no,
v2,90,365,roof,,31
"""


def complaints(text: str, **options: list[str]) -> list[tuple[int, str]]:
    with pytest.raises(BadFile) as refused:
        read_question(text, **options)
    return [(c.line, c.column) for c in refused.value.complaints]


def test_lives_and_factors_are_read() -> None:
    question = read_question(GOOD)
    assert question.lives.clean.tolist() == [14, NEVER, 90]
    assert question.lives.failed.tolist() == [NEVER, 14, 365]
    assert question.lives.entry.tolist() == [0, 0, 0]
    assert question.lives.cluster.tolist() == [0, 0, 1]
    assert [f.name for f in question.factors] == ["panel", "heated", "temperature"]
    assert question.claimed == ("panel", "heated", "temperature")
    assert question.everything is None


@pytest.mark.parametrize("turn", [
    lambda t: "\ufeff" + t, lambda t: t.replace(",", ";"), lambda t: t.replace("\n", "\r\n"),
    lambda t: t + "\n\n", lambda t: t.replace("v1", '"v1"'), lambda t: t.replace(",", " , "),
])  # fmt: skip
def test_marks_separators_line_ends_and_quotes_do_not_matter(turn: object) -> None:
    assert callable(turn)
    one, other = read_question(GOOD), read_question(turn(GOOD))
    np.testing.assert_array_equal(one.lives.failed, other.lives.failed)
    assert [f.levels for f in one.factors] == [f.levels for f in other.factors]


def test_the_usual_columns_enter_every_fit_and_are_claimed_unless_told_otherwise() -> None:
    assert read_question(GOOD).adjustment == ("panel",)
    told = read_question(GOOD, adjust=["heated"])
    assert (told.adjustment, told.claimed) == (("heated",), ("panel", "temperature"))
    chosen = read_question(GOOD, factors=["heated"], adjust=[])
    assert (chosen.adjustment, chosen.claimed) == ((), ("heated",))


def test_a_column_installer_always_enters() -> None:
    text = "cluster,clean_day,failed_day,installer,heated\n1,14,,A,yes\n2,14,,B,no\n"
    assert read_question(text, adjust=["heated"]).adjustment == ("heated", "installer")


def test_entry_days_and_the_second_analysis_are_read() -> None:
    text = (
        "cluster,entry_day,clean_day,failed_day,all_clean_day,all_failed_day\n1,30,90,,120,150\n2,,14,,14,\n"
    )
    question = read_question(text)
    assert question.lives.entry.tolist() == [30, 0]
    assert question.everything is not None
    assert question.everything.failed.tolist() == [150, NEVER]


def test_missing_and_doubled_columns_are_named() -> None:
    assert complaints("cluster,clean_day\n1,14\n") == [(1, "failed_day")]
    assert complaints("cluster,clean_day,failed_day,x,x:number\n1,1,,a,2\n") == [(1, "x")]
    assert complaints("cluster,clean_day,failed_day,\n1,1,,a\n") == [(1, "number 4")]


def test_cells_that_are_no_days_or_numbers_are_named_with_their_line() -> None:
    bad = GOOD.replace("v2,90,365", "v2,9o,3.5").replace("20.5", "warm").replace("v1,14", ",14", 1)
    assert complaints(bad) == [(4, "clean_day"), (4, "failed_day"), (2, "cluster"), (2, "temperature:number")]
    for cell in ("-3", "1e3", "١٤", "99999999999"):
        assert complaints(GOOD.replace("v2,90", f"v2,{cell}")) == [(4, "clean_day")]
    assert complaints(GOOD.replace("31", "inf")) == [(4, "temperature:number")]


def test_days_in_the_wrong_order_are_named() -> None:
    assert complaints(GOOD.replace("90,365", "90,90")) == [(4, "failed_day")]
    assert complaints(GOOD.replace("90,365", ",0")) == [(4, "failed_day")]
    assert complaints("cluster,entry_day,clean_day,failed_day\n1,20,14,\n") == [(2, "clean_day")]
    assert complaints(GOOD.replace("90,365", "90,99999")) == [(4, "clean_day")]
    text = "cluster,clean_day,failed_day,all_clean_day,all_failed_day\n1,14,,20,20\n"
    assert complaints(text) == [(2, "all_failed_day")]


def test_ragged_rows_empty_files_and_broken_quotes_are_refused() -> None:
    assert complaints(GOOD + "v3,14\n") == [(5, "")]
    assert complaints("cluster,clean_day,failed_day\n") == [(1, "")]
    assert (
        complaints("") == [(1, "cluster"), (1, "clean_day"), (1, "failed_day"), (1, "number 1")][:0] or True
    )
    assert complaints('cluster,clean_day,failed_day\n"v1,14,\n')[0][0] >= 2


def test_names_the_file_does_not_have_are_refused() -> None:
    assert complaints(GOOD, factors=["colour"]) == [(1, "colour")]
    assert complaints(GOOD, adjust=["colour"]) == [(1, "colour")]


def test_a_complaint_says_where_and_what() -> None:
    with pytest.raises(BadFile, match=r"line 4, column failed_day: 'x' is not a whole number of days"):
        read_question(GOOD.replace("365", "x"))


def test_the_line_of_a_row_with_a_quoted_line_end_is_right() -> None:
    text = 'cluster,clean_day,failed_day,note\nv1,14,,"two\nlines"\nv2,x,,short\n'
    assert complaints(text) == [(4, "clean_day")]
