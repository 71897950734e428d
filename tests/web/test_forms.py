"""Forms on the page: names, descriptions and errors belong to their fields, and what was typed stays."""

import pytest
from django.http import QueryDict

from shopwarranty.web.fields import YesNoNotRecorded

from .pages import Elements, render
from .sample_forms import PanelForm

pytestmark = pytest.mark.urls("tests.web.urls")
TYPED = (
    "plate=&passes=-3&temperature=warm&kind=Pocket&note=Trim+in+the+way&prep=Wash&heated=no&laid_at_0=soon"
)


def refused() -> PanelForm:
    return PanelForm(QueryDict(TYPED))


def shown(form: PanelForm) -> Elements:
    return Elements(render("{{ form }}", form=form))


def test_every_label_and_description_leads_to_an_element_of_the_page() -> None:
    for form in (PanelForm(), refused()):
        page = shown(form)
        ids = page.ids
        wanted = [label["for"] for label in page.all("label") if "for" in label]
        wanted += [
            word for _tag, attributes in page.found for word in attributes.get("aria-describedby", "").split()
        ]
        assert wanted
        assert set(wanted) <= set(ids)
        assert len(ids) == len(set(ids))


def test_every_field_that_can_be_filled_in_has_a_name_read_out() -> None:
    page = shown(PanelForm())
    named = {label["for"] for label in page.all("label") if "for" in label}
    inputs = [field for field in page.all("input", "select", "textarea") if field.get("type") != "hidden"]
    unnamed = [field["name"] for field in inputs if field.get("id") not in named and not wrapped(field)]
    assert unnamed == []


def wrapped(field: dict[str, str]) -> bool:
    """The tick's input lies inside its label; the two halves of a moment are named by their group."""
    return field["name"] == "looked" or field["name"].startswith("laid_at")


def test_what_was_typed_comes_back_as_it_was_typed() -> None:
    page = shown(refused())
    typed = {field.get("name"): field.get("value") for field in page.all("input")}
    assert typed["passes"] == "-3"
    assert typed["temperature"] == "warm"
    assert typed["laid_at_0"] == "soon"
    pressed = {field["value"] for field in page.all("input") if "checked" in field}
    assert pressed == {"Pocket", "Wash", "no"}
    assert "Trim in the way" in render("{{ form }}", form=refused())


def test_a_number_field_that_would_blank_what_was_typed_is_a_text_field() -> None:
    # HTML standard, value sanitization of type=number: what is no valid number is set to the empty string.
    kinds = {field.get("name"): field.get("type") for field in shown(refused()).all("input")}
    assert kinds["temperature"] == "text"
    assert kinds["passes"] == "number"


def test_the_summary_leads_to_every_field_that_has_to_be_put_right() -> None:
    form = refused()
    page = shown(form)
    links = {link["href"].removeprefix("#") for link in page.all("a")}
    assert len(links) == len(form.errors) == 5
    assert links <= set(page.ids)


def test_a_field_with_an_error_says_so_to_those_who_listen() -> None:
    fields = {field.get("name"): field for field in shown(refused()).all("input", "select", "textarea")}
    assert fields["plate"]["aria-invalid"] == "true"
    assert fields["plate"]["aria-describedby"].split() == ["id_plate_helptext", "id_plate_error"]
    assert "aria-invalid" not in fields["note"]


def test_an_error_of_the_whole_form_stands_in_the_summary() -> None:
    form = PanelForm(QueryDict("plate=7FN402"))
    form.add_error(None, "The vehicle left on Monday.")
    assert "The vehicle left on Monday." in render('{% include "web/form_errors.html" %}', form=form)


def test_a_group_of_pieces_is_a_fieldset_with_a_legend() -> None:
    page = shown(PanelForm())
    assert len(page.all("fieldset")) == len(page.all("legend")) == 4
    assert len([field for field in page.all("input") if field.get("type") == "radio"]) == 3 + 5


def test_a_field_that_may_stay_empty_says_so_unless_a_piece_already_does() -> None:
    html = render("{{ form }}", form=PanelForm())
    assert html.count("optional") == 3 * 2  # passes, prep, photo: the word and its class
    assert "Not recorded" in html


def test_nothing_is_marked_wrong_before_anything_was_sent() -> None:
    assert "wrong" not in render("{{ form }}", form=PanelForm())


def test_not_recorded_is_an_answer_of_its_own() -> None:
    field = YesNoNotRecorded()
    assert [field.clean(word) for word in ("yes", "no", "")] == [True, False, None]
    assert [field.prepare_value(value) for value in (True, False, None)] == ["yes", "no", ""]
    assert field.has_changed(None, "no")
    assert not field.has_changed(False, "no")


def test_the_steps_of_a_number_wait_for_the_script() -> None:
    buttons = [button for button in shown(PanelForm()).all("button") if "data-step" in button]
    assert [button["aria-label"] for button in buttons[:2]] == ["Passes: less", "Passes: more"]
    assert all("hidden" in button and button["type"] == "button" for button in buttons)
