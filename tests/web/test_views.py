"""Errors in plain words, and the choice of colours."""

import pytest
from django.test import Client, RequestFactory

from shopwarranty.web import views

pytestmark = pytest.mark.urls("tests.web.urls")


def test_an_address_that_leads_nowhere_says_so(client: Client) -> None:
    answer = client.get("/no/such/page/")
    assert answer.status_code == 404
    assert "There is nothing at this address." in answer.content.decode()


@pytest.mark.parametrize(
    ("view", "status", "words"),
    [
        (views.bad_request, 400, "was not understood"),
        (views.refused, 403, "Your role does not open this page"),
        (views.not_found, 404, "nothing at this address"),
        (views.server_error, 500, "broke on our side"),
    ],
)
def test_an_error_page_says_what_happened_and_leads_on(view: object, status: int, words: str) -> None:
    answer = view(RequestFactory().get("/"))  # type: ignore[operator]
    html = answer.content.decode()
    assert answer.status_code == status
    assert words in html
    assert '<a class="press" href="/">' in html


def test_a_form_from_a_page_open_too_long_says_how_to_keep_what_was_typed() -> None:
    answer = Client(enforce_csrf_checks=True).post("/colours/", {"theme": "dark"})
    html = answer.content.decode()
    assert answer.status_code == 403
    assert "What you typed is still in your browser" in html
    assert answer.cookies.get("colours") is None


def test_the_chosen_colours_stay_with_the_device(client: Client) -> None:
    answer = client.post("/colours/", {"theme": "contrast-dark", "next": "/s/kiln/jobs/?page=2"})
    assert answer.status_code == 302
    assert answer["Location"] == "/s/kiln/jobs/?page=2"
    assert answer.cookies["colours"].value == "contrast-dark"
    assert 'data-theme="contrast-dark"' in client.get("/no/such/page/").content.decode()


def test_as_the_device_takes_the_choice_back(client: Client) -> None:
    client.post("/colours/", {"theme": "dark"})
    client.post("/colours/", {"theme": ""})
    assert "data-theme" not in client.get("/no/such/page/").content.decode()


@pytest.mark.parametrize("onward", ["https://elsewhere.example/", "//elsewhere.example", "javascript:x"])
def test_choosing_colours_leads_nowhere_else(client: Client, onward: str) -> None:
    assert client.post("/colours/", {"theme": "dark", "next": onward})["Location"] == "/"


def test_colours_are_chosen_by_sending_not_by_looking(client: Client) -> None:
    assert client.get("/colours/").status_code == 405
