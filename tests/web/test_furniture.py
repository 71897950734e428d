"""The pages everything stands on: head, notices, paging, empty states, marks."""

import pytest
from django.contrib import messages
from django.core.paginator import Paginator
from django.template import TemplateSyntaxError
from django.utils import translation

from shopwarranty.web import nav
from shopwarranty.web.marks import STATES, VERDICTS
from shopwarranty.web.notices import tell

from .pages import Elements, Shop, a_request, render

pytestmark = pytest.mark.urls("tests.web.urls")
DESK = (
    '{% extends "web/desk.html" %}{% block title %}Jobs{% endblock %}{% block main %}<p>7</p>{% endblock %}'
)


def test_a_page_says_its_language_and_its_direction() -> None:
    assert '<html lang="en" dir="ltr">' in render(DESK)
    with translation.override("ar"):
        assert '<html lang="ar" dir="rtl">' in render(DESK)


def test_the_title_names_page_and_shop() -> None:
    assert "<title>Jobs – Fennel Yard Film</title>" in render(DESK)


def test_the_first_link_leads_past_the_head_to_the_page() -> None:
    page = Elements(render(DESK))
    assert page.all("a")[0] == {"class": "skip", "href": "#main"}
    assert page.all("main") == [{"id": "main", "tabindex": "-1", "class": "wide"}]


def test_the_room_one_is_in_is_marked() -> None:
    current = [link for link in Elements(render(DESK)).all("a") if link.get("aria-current") == "page"]
    assert [link["href"] for link in current] == ["/s/fennel/jobs/"]


def test_the_search_keeps_what_was_looked_for() -> None:
    fields = [field for field in Elements(render(DESK, q="7FN <402>")).all("input") if field["name"] == "q"]
    assert [field["value"] for field in fields] == ["7FN <402>"]


def test_rooms_without_an_address_and_rooms_of_other_roles_are_left_out() -> None:
    rooms = (
        nav.Room("colours", "Colours", "theme"),
        nav.Room("nowhere", "Nowhere", "no-such-address"),
        nav.Room("own", "Own", "theme", nav.OWNER),
    )
    assert nav.entries(rooms, "", frozenset({"desk"})) == []  # the theme's address takes no shop
    assert nav.address("theme") == "/colours/"
    assert nav.address("no-such-address") == ""


@pytest.mark.parametrize(("cookie", "theme"), [("dark", "dark"), ("contrast", "contrast"), ("neon", "")])
def test_a_chosen_theme_is_said_once_and_an_unknown_one_is_not(cookie: str, theme: str) -> None:
    html = Elements(render(DESK, a_request(theme=cookie))).all("html")[0]
    assert html.get("data-theme", "") == theme


def test_a_notice_offers_the_way_back_and_never_leaves_by_itself() -> None:
    request = a_request()
    tell(request, "Moved to Friday, 1:30 pm.", undo_url="/s/fennel/undo/7/")
    tell(request, "Nothing was saved.", level=messages.ERROR)
    html = render(DESK, request)
    page = Elements(html)
    assert "/s/fennel/undo/7/" in [
        form["action"] for form in page.all("form") if form.get("method") == "post"
    ]
    assert html.count("Undo</button>") == 1
    assert [notice["class"] for notice in page.all("div") if "notice " in notice.get("class", "")] == [
        "notice notice-success",
        "notice notice-error",
    ]


def test_words_of_a_notice_cannot_carry_markup() -> None:
    request = a_request()
    tell(request, "<b>Osk</b>")
    assert "&lt;b&gt;Osk" in render(DESK, request)


def test_paging_keeps_the_filters_and_marks_where_one_is() -> None:
    page = Paginator(range(231), 10).page(7)
    html = render('{% include "web/paging.html" %}', a_request("/s/fennel/jobs/?film=a&page=7"), page=page)
    links = Elements(html).all("a")
    assert "?film=a&page=6" in [link["href"] for link in links]
    assert [link["href"] for link in links if "aria-current" in link] == ["?film=a&page=7"]
    assert "61 to 70 of 231" in html


def test_one_page_needs_no_paging() -> None:
    html = render('{% include "web/paging.html" %}', page=Paginator(range(3), 10).page(1))
    assert "<nav" not in html


def test_an_empty_list_says_what_to_do() -> None:
    html = render(
        '{% include "web/empty.html" with heading="No jobs yet" words="W" url="/new" act="Record one" %}'
    )
    assert "No jobs yet" in html
    assert Elements(html).all("a") == [{"class": "press", "href": "/new"}]


@pytest.mark.parametrize("name", sorted(set(STATES) - {"plain"}))
def test_every_state_has_a_mark_and_a_word(name: str) -> None:
    html = render("{% load glyphs %}{% state name %}", name=name)
    assert f'class="state state-{name}"' in html
    assert html.count("<path") + html.count("<rect") >= 1
    assert str(STATES[name].word) in html


def test_no_two_states_and_no_two_verdicts_share_their_strokes() -> None:
    for marks in (STATES, VERDICTS):
        strokes = [mark.strokes for mark in marks.values()]
        assert len(strokes) == len(set(strokes))


def test_a_verdict_writes_its_phrase_out() -> None:
    said = [render("{% load glyphs %}{% verdict name %}", name=name) for name in VERDICTS]
    phrases = (
        "more failures",
        "fewer failures",
        "No clear difference",
        "Cannot tell yet",
        "Cannot be told apart",
    )
    assert all(phrase in html for phrase, html in zip(phrases, said, strict=True))


def test_an_unknown_state_is_an_error_and_not_a_blank() -> None:
    with pytest.raises(TemplateSyntaxError, match="No mark is called 'fine'"):
        render("{% load glyphs %}{% state 'fine' %}")


def test_words_of_a_state_cannot_carry_markup() -> None:
    assert "&lt;i&gt;" in render("{% load glyphs %}{% state 'due' words %}", words="<i>")


def test_a_confirm_page_asks_says_what_follows_and_lets_one_leave() -> None:
    html = render(
        "web/confirm.html",
        question="Withdraw certificate FY-26-0417?",
        consequences=["The public page will say: withdrawn."],
        act="Withdraw it",
        back_url="/s/fennel/certificates/",
    )
    page = Elements(html)
    assert "The public page will say: withdrawn." in html
    assert "/s/fennel/certificates/" in [link["href"] for link in page.all("a")]
    assert [form for form in page.all("form") if "data-unsaved" in form]


def test_a_shop_in_another_zone_sees_which_times_it_reads() -> None:
    assert "America/Chicago" in render(DESK, shop=Shop())
