"""Terms and last covered days. Table values were computed separately with plain Python 3.11."""

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from dateutil.relativedelta import relativedelta  # type: ignore[import-untyped]
from hypothesis import given
from hypothesis import strategies as st

from shopwarranty.warranty.cover import (
    CoverDates,
    PrintedTerm,
    ReplacementCover,
    Term,
    TermProblem,
    add_term,
    cover_after_replacement,
    in_cover,
    legal_guarantee_last_day,
    local_date,
    parse_term,
    printed_term_state,
)

NEW_YORK = ZoneInfo("America/New_York")
BERLIN = ZoneInfo("Europe/Berlin")
days = st.dates(date(1990, 1, 1), date(2150, 12, 31))
terms = st.builds(Term, st.integers(0, 30), st.integers(0, 40), st.integers(1, 800))

LAST_DAYS = [
    ("2026-03-01", "5 y", "2031-03-01", "2031-02-28"),
    ("2026-01-31", "1 m", "2026-02-28", "2026-02-27"),
    ("2024-01-31", "1 m", "2024-02-29", "2024-02-28"),
    ("2024-02-29", "1 y", "2025-02-28", "2025-02-27"),
    ("2024-02-29", "4 y", "2028-02-29", "2028-02-28"),
    ("2024-02-29", "5 y", "2029-02-28", "2029-02-27"),
    ("2024-02-29", "10 y", "2034-02-28", "2034-02-27"),
    ("2026-08-31", "6 m", "2027-02-28", "2027-02-27"),
    ("2027-08-31", "6 m", "2028-02-29", "2028-02-28"),
    ("2026-11-30", "3 m", "2027-02-28", "2027-02-27"),
    ("2026-10-31", "1 m", "2026-11-30", "2026-11-29"),
    ("2026-12-31", "2 m", "2027-02-28", "2027-02-27"),
    ("2000-02-29", "100 y", "2100-02-28", "2100-02-27"),
]


@pytest.mark.parametrize(("start", "term", "inclusive", "exclusive"), LAST_DAYS)
def test_the_last_covered_day_of_every_awkward_start(
    start: str, term: str, inclusive: str, exclusive: str
) -> None:
    """E43, E44: 29 February and month ends clamp to the last day of the month, from the original start."""
    first = date.fromisoformat(start)
    assert add_term(first, parse_term(term)) == date.fromisoformat(inclusive)
    assert add_term(first, parse_term(term), inclusive=False) == date.fromisoformat(exclusive)


def test_months_are_added_to_the_original_start_and_never_chained() -> None:
    start, month = date(2026, 1, 31), Term(months=1)
    assert add_term(add_term(start, month), month) == date(2026, 3, 28)
    assert add_term(start, Term(months=2)) == date(2026, 3, 31)


def test_a_year_is_not_365_days_and_a_month_is_not_30() -> None:
    assert add_term(date(2024, 1, 1), Term(years=1)) != add_term(date(2024, 1, 1), Term(days=365))
    assert add_term(date(2026, 1, 1), Term(months=1)) != add_term(date(2026, 1, 1), Term(days=30))


@pytest.mark.parametrize(
    ("start", "due"),
    [
        ("2026-02-14", "2026-02-28"),
        ("2028-02-15", "2028-02-29"),
        ("2024-02-29", "2024-03-14"),
        ("2026-12-24", "2027-01-07"),
        ("2026-10-18", "2026-11-01"),
        ("2026-11-01", "2026-11-15"),
    ],
)
def test_two_weeks_are_fourteen_days(start: str, due: str) -> None:
    for words in ("14 days", "2 weeks", "P14D", "P2W"):
        assert add_term(date.fromisoformat(start), parse_term(words)) == date.fromisoformat(due)


@given(days, terms)
def test_every_term_agrees_with_dateutil(start: date, term: Term) -> None:
    """Source: python-dateutil relativedelta, which clamps to the month's end in the same way."""
    delta = relativedelta(years=term.years, months=term.months, days=term.days)
    assert add_term(start, term) == start + delta
    assert add_term(start, term, inclusive=False) == start + delta - timedelta(days=1)


@given(days, days, terms)
def test_a_later_start_never_ends_sooner(one: date, other: date, term: Term) -> None:
    early, late = sorted((one, other))
    assert add_term(early, term) <= add_term(late, term)


def test_a_datetime_is_not_taken_for_a_day() -> None:
    with pytest.raises(TypeError, match="shop's zone"):
        add_term(datetime(2026, 1, 1, tzinfo=UTC), Term(years=1))


def test_a_term_beyond_the_calendar_is_refused_with_a_sentence() -> None:
    with pytest.raises(TermProblem, match="calendar can hold"):
        add_term(date(9999, 12, 1), Term(months=1))


@pytest.mark.parametrize(
    ("typed", "term", "words"),
    [
        ("5 years", Term(years=5), "5 years"),
        ("5y", Term(years=5), "5 years"),
        ("1 year", Term(years=1), "1 year"),
        (" 18 Months ", Term(months=18), "18 months"),
        ("2 years and 6 months", Term(2, 6), "2 years 6 months"),
        ("1 y, 1 m, 1 d", Term(1, 1, 1), "1 year 1 month 1 day"),
        ("P5Y6M10D", Term(5, 6, 10), "5 years 6 months 10 days"),
        ("p1y", Term(years=1), "1 year"),
        ("2 weeks", Term(days=14), "14 days"),
        ("5 Jahre und 6 Monate", Term(5, 6), "5 years 6 months"),
        ("2 Wochen", Term(days=14), "14 days"),
        ("1 año", Term(years=1), "1 year"),
        ("5 años y 6 meses", Term(5, 6), "5 years 6 months"),
        ("14 días", Term(days=14), "14 days"),
    ],
)
def test_a_term_is_read_as_people_write_it(typed: str, term: Term, words: str) -> None:
    assert parse_term(typed) == term
    assert str(term) == words
    assert parse_term(term.iso) == term
    assert parse_term(words) == term


@pytest.mark.parametrize(
    "typed",
    ["", "five years", "5", "P", "-5 years", "5 years 3 years", "5 years of joy", "lifetime", "5.5 years"],
)
def test_what_is_not_a_term_is_refused(typed: str) -> None:
    with pytest.raises(TermProblem, match="5 years, 18 months or 14 days"):
        parse_term(typed)


def test_empty_negative_and_endless_terms_are_refused() -> None:
    for parts, message in [((0, 0, 0), "needs years"), ((-1, 0, 0), "negative"), ((201, 0, 0), "200 years")]:
        with pytest.raises(TermProblem, match=message):
            Term(*parts)


def test_words_go_through_the_plural_rule_they_are_given() -> None:
    def german(singular: str, plural: str, count: int) -> str:
        return {"%(count)d year": "%(count)d Jahr"}.get(singular, singular) + ("e" if count != 1 else "")

    assert Term(years=5).words(german) == "5 Jahre"


@pytest.mark.parametrize(
    ("zone", "reported", "covered"),
    [
        (BERLIN, datetime(2026, 10, 31, 23, 59, tzinfo=BERLIN), True),
        (BERLIN, datetime(2026, 11, 1, 0, 0, tzinfo=BERLIN), False),
        (NEW_YORK, datetime(2026, 11, 1, 3, 30, tzinfo=UTC), True),
        (BERLIN, datetime(2026, 10, 31, 23, 30, tzinfo=UTC), False),
        (NEW_YORK, datetime(2026, 10, 31, 23, 59, 59, 999_999, tzinfo=NEW_YORK), True),
    ],
)
def test_a_report_is_in_time_to_the_end_of_the_last_day_in_the_shops_zone(
    zone: ZoneInfo, reported: datetime, covered: bool
) -> None:
    """E78."""
    assert in_cover(date(2026, 10, 31), reported, zone) is covered


def test_a_report_before_the_cover_began_is_outside_when_the_first_day_is_given() -> None:
    before = datetime(2026, 9, 30, 12, tzinfo=BERLIN)
    assert in_cover(date(2026, 10, 31), before, BERLIN)
    assert not in_cover(date(2026, 10, 31), before, BERLIN, first_day=date(2026, 10, 1))


def test_a_day_is_the_shops_day_whatever_zone_the_server_is_in() -> None:
    """E53: issued just before midnight in the shop, already tomorrow in UTC."""
    moment = datetime(2026, 11, 12, 4, 55, tzinfo=UTC)
    assert local_date(moment, NEW_YORK) == date(2026, 11, 11)
    assert local_date(moment, BERLIN) == date(2026, 11, 12)
    assert local_date(moment.astimezone(BERLIN), NEW_YORK) == date(2026, 11, 11)


def test_a_moment_without_an_offset_has_no_day() -> None:
    with pytest.raises(ValueError, match="aware"):
        local_date(datetime.fromisoformat("2026-11-12T04:55"), NEW_YORK)


WORK = CoverDates(date(2026, 11, 11), date(2027, 11, 11))
FILM = CoverDates(date(2026, 11, 11), date(2033, 11, 11))


@pytest.mark.parametrize(
    ("today", "state"),
    [
        (date(2026, 11, 10), PrintedTerm.NOT_STARTED),
        (date(2026, 11, 11), PrintedTerm.RUNNING),
        (date(2027, 11, 11), PrintedTerm.RUNNING),
        (date(2027, 11, 12), PrintedTerm.PARTLY_ENDED),
        (date(2033, 11, 11), PrintedTerm.PARTLY_ENDED),
        (date(2033, 11, 12), PrintedTerm.ENDED),
    ],
)
def test_a_certificate_has_ended_only_when_every_line_has(today: date, state: PrintedTerm) -> None:
    """E45: film and work have their own start and end."""
    assert printed_term_state([WORK, FILM], today) is state


def test_a_last_day_nobody_recorded_never_reads_as_ended() -> None:
    unknown = CoverDates(date(2026, 11, 11), None)
    assert printed_term_state([unknown], date(2090, 1, 1)) is PrintedTerm.NOT_RECORDED
    assert printed_term_state([unknown, WORK], date(2090, 1, 1)) is PrintedTerm.NOT_RECORDED
    assert printed_term_state([unknown, WORK], date(2027, 1, 1)) is PrintedTerm.RUNNING


def test_a_line_not_yet_begun_keeps_a_certificate_from_having_ended() -> None:
    later = CoverDates(date(2029, 1, 1), date(2030, 1, 1))
    assert printed_term_state([WORK, later], date(2028, 1, 1)) is PrintedTerm.PARTLY_ENDED


def test_a_certificate_without_lines_has_no_state() -> None:
    with pytest.raises(ValueError, match="at least one cover line"):
        printed_term_state([], date(2026, 1, 1))


def test_film_laid_anew_keeps_the_original_end_unless_the_plan_says_otherwise() -> None:
    """E21."""
    laid, term = date(2027, 5, 3), Term(years=1)
    assert cover_after_replacement(WORK, laid_on=laid, term=term) == CoverDates(laid, date(2027, 11, 11))
    new = cover_after_replacement(WORK, laid_on=laid, term=term, policy=ReplacementCover.NEW_TERM)
    assert new == CoverDates(laid, date(2028, 5, 3))


def test_a_new_term_never_shortens_the_cover_that_was_promised() -> None:
    new = cover_after_replacement(
        FILM, laid_on=date(2027, 5, 3), term=Term(years=1), policy=ReplacementCover.NEW_TERM
    )
    assert new.last_day == FILM.last_day


def test_a_repair_adds_twelve_months_to_the_eu_legal_guarantee_for_contracts_since_31_july_2026() -> None:
    """Source: Dir. (EU) 2024/1799 amending 2019/771, as restated by two law-firm notes; 31 July 2026."""
    delivered = date(2026, 8, 31)
    assert legal_guarantee_last_day(delivered, concluded_on=date(2026, 7, 31), repaired=True) == date(
        2029, 8, 31
    )
    assert legal_guarantee_last_day(delivered, concluded_on=date(2026, 7, 30), repaired=True) == date(
        2028, 8, 31
    )
    assert legal_guarantee_last_day(delivered, concluded_on=date(2026, 8, 1), repaired=False) == date(
        2028, 8, 31
    )
