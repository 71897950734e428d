"""The furniture in a real browser: WCAG rules by axe-core, sizes to press, reflow, scripts optional."""

from collections.abc import Callable
from typing import Any

import pytest
from django.contrib import messages
from django.core.paginator import Paginator
from django.http import QueryDict

from shopwarranty.web.marks import STATES
from shopwarranty.web.notices import tell

from .pages import a_request, render
from .sample_forms import PanelForm
from .test_forms import TYPED

pytestmark = [pytest.mark.browser, pytest.mark.urls("tests.web.urls")]
Open = Callable[..., Any]
WCAG = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]

BAY = """{% extends "web/bay.html" %}{% block title %}Door{% endblock %}
{% block back %}<a href="/back/">Job 2417</a>{% endblock %}{% block where %}All sent{% endblock %}
{% block main %}<div class="title"><h1>Left front door</h1></div>
<form class="form" id="record" method="post" data-unsaved>{{ form }}</form>{% endblock %}
{% block acts %}<p class="grow">8 panels, 42 edges</p>
<button type="submit" class="press" form="record">Hand over</button>{% endblock %}"""
DESK = """{% extends "web/desk.html" %}{% load glyphs shop_format %}{% block title %}Today{% endblock %}
{% block main %}<div class="title"><h1>Three to call, four coming in.</h1></div>
<div class="cols"><section><h2>Call</h2><ul class="sheet rows"><li class="row-three"><p>A. Example</p>
<p>{% for name in names %}{% state name %} {% endfor %}</p>
<p class="acts"><a class="press" href="#b">Book</a></p></li>
</ul></section>
<section><h2>Facts</h2><dl class="facts sheet"><div><dt>Air</dt><dd>{{ 20|temperature:shop }}</dd></div>
<div><dt>Panel</dt><dd>{{ none|temperature:shop }}</dd></div></dl>
{% look_first "No post-heat." %}</section></div>
{% include "web/empty.html" with mark="due" heading="No checks due yet" url="#j" act="Open the jobs" %}
{% include "web/paging.html" %}{% endblock %}"""


def bay(theme: str = "") -> str:
    return render(BAY, a_request(theme=theme), form=PanelForm(QueryDict(TYPED)))


def desk(theme: str = "") -> str:
    request = a_request(theme=theme)
    tell(request, "Moved to Friday, 1:30 pm.", undo_url="/undo/")
    tell(request, "Nothing was saved.", level=messages.ERROR)
    page = Paginator(range(231), 10).page(7)
    return render(DESK, request, page=page, names=sorted(set(STATES) - {"plain"}))


@pytest.mark.parametrize(
    ("width", "theme"),
    [(390, ""), (390, "dark"), (390, "contrast"), (390, "contrast-dark"), (1280, ""), (1280, "dark")],
)
@pytest.mark.parametrize("source", [bay, desk])
def test_no_rule_of_wcag_is_broken(
    open_page: Open, source: Callable[[str], str], width: int, theme: str
) -> None:
    # Rules: axe-core (open source, by its own list of WCAG 2.2 A and AA tags).
    from axe_playwright_python.sync_playwright import Axe

    found = Axe().run(open_page(source(theme), width=width), options={"runOnly": WCAG})
    assert [(rule["id"], rule["nodes"][0]["html"]) for rule in found.response["violations"]] == []


@pytest.mark.parametrize("width", [320, 390, 820, 1280])
@pytest.mark.parametrize("source", [bay, desk])
def test_no_page_scrolls_sideways(open_page: Open, source: Callable[[], str], width: int) -> None:
    # WCAG 2.2, 1.4.10 Reflow: 320 CSS px without scrolling in two directions.
    page = open_page(source(), width=width)
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")


def test_text_twice_as_large_still_fits_a_phone(open_page: Open) -> None:
    # WCAG 2.2, 1.4.4 Resize Text: 200 %.
    page = open_page(bay())
    page.evaluate("document.documentElement.setAttribute('class', 'x')")
    page.add_style_tag(content="html { font-size: 200% }")
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")


PRESSED = """() => [...document.querySelectorAll(
    "a, button, select, input, textarea, summary, .pick label, .tick")]
  .filter(n => n.offsetParent && !n.closest(".skip") && !n.matches(".pick input, .tick input, [type=hidden]"))
  .map(n => ({what: n.outerHTML.slice(0, 70), h: n.getBoundingClientRect().height}))"""


def test_everything_pressed_in_the_bay_is_64_px_high(open_page: Open) -> None:
    # More than WCAG 2.2, 2.5.5 (44 px) asks for: gloves.
    assert [piece for piece in open_page(bay()).evaluate(PRESSED) if piece["h"] < 63.9] == []


def test_everything_pressed_at_the_desk_is_44_px_high(open_page: Open) -> None:
    # WCAG 2.2, 2.5.5 Target Size (Enhanced): 44 by 44 CSS px.
    for width in (390, 1280):
        small = [piece for piece in open_page(desk(), width=width).evaluate(PRESSED) if piece["h"] < 43.9]
        assert small == []


def test_pieces_to_press_lie_8_px_apart(open_page: Open) -> None:
    page = open_page(bay())
    gaps = page.evaluate("""() => [...document.querySelectorAll(".pick")].flatMap(group => {
      const pieces = [...group.children].map(n => n.getBoundingClientRect());
      return pieces.flatMap((a, i) => pieces.slice(i + 1).map(b =>
        Math.max(b.left - a.right, a.left - b.right, b.top - a.bottom, a.top - b.bottom))); })""")
    assert gaps
    assert min(gaps) >= 7.9


def test_the_steps_count_up_and_down_and_begin_at_the_usual_value(open_page: Open) -> None:
    page = open_page(render(BAY, form=PanelForm()))
    up, down = (
        page.get_by_role("button", name="Passes: more"),
        page.get_by_role("button", name="Passes: less"),
    )
    field = page.locator("#id_passes")
    assert field.input_value() == ""
    up.click()
    assert field.input_value() == "2"
    up.click()
    assert field.input_value() == "3"
    for _press in range(5):
        down.click()
    assert field.input_value() == "0"


def test_without_scripts_every_field_is_there_and_no_dead_button(open_page: Open) -> None:
    page = open_page(bay(), java_script_enabled=False)
    assert page.locator("[data-step]:visible, [data-put-away]:visible").count() == 0
    assert page.locator("#id_passes").is_visible()
    page.locator("label", has_text="Corner lift").click()
    assert page.get_by_label("Corner lift").is_checked()


def test_after_a_refusal_the_reader_starts_at_what_has_to_be_put_right(open_page: Open) -> None:
    page = open_page(bay())
    assert page.evaluate("document.activeElement.className") == "wrong"
    page.get_by_role("link", name="Temperature").click()
    assert page.evaluate("document.activeElement.id") == "id_temperature"


def test_a_slash_goes_to_the_search_unless_somebody_is_typing(open_page: Open) -> None:
    page = open_page(desk(), width=1280)
    page.keyboard.press("/")
    assert page.evaluate("document.activeElement.id") == "find"
    page.keyboard.type("a/b")
    assert page.locator("#find").input_value() == "a/b"


def test_the_head_can_be_walked_by_keyboard_from_the_skip_link_on(open_page: Open) -> None:
    page = open_page(desk(), width=1280)
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.className") == "skip"
    page.keyboard.press("Enter")
    assert page.evaluate("document.activeElement.id") == "main"


def test_a_notice_goes_when_it_is_put_away_and_not_before(open_page: Open) -> None:
    page = open_page(desk())
    assert page.locator(".notice").count() == 2
    page.get_by_role("button", name="Put away").first.click()
    assert page.locator(".notice").count() == 1


def test_the_menu_closes_on_escape_and_gives_the_focus_back(open_page: Open) -> None:
    page = open_page(desk(), width=1280)
    page.locator("details.menu summary").click()
    page.keyboard.press("Escape")
    assert page.locator("details.menu[open]").count() == 0
    assert page.evaluate("document.activeElement.tagName") == "SUMMARY"


def test_the_foot_never_hides_the_field_one_is_in(open_page: Open) -> None:
    # WCAG 2.2, 2.4.11 Focus Not Obscured (Minimum).
    page = open_page(bay())
    for _step in range(30):
        page.keyboard.press("Tab")
        hidden = page.evaluate("""() => {
          const n = document.activeElement, foot = document.querySelector(".foot");
          if (!foot || foot.contains(n) || n === document.body) return false;
          const r = n.getBoundingClientRect(), f = foot.getBoundingClientRect();
          return r.top >= f.top && r.bottom <= f.bottom; }""")
        assert not hidden
