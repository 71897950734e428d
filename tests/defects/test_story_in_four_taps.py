"""A lifted edge's whole story, pressed through from the certificate as a person would."""

import re
from html import unescape

import pytest
from django.urls import reverse

from tests import builders
from tests.conftest import NOW, ShopPeople
from tests.warranty.conftest import make_yard
from tests.warranty.conftest import plain_pdf as plain_pdf


@pytest.mark.usefixtures("plain_pdf")
def test_from_the_plate_it_takes_four_presses(ours: ShopPeople, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("django.utils.timezone.now", lambda: NOW)
    yard = make_yard(ours)
    job = yard.job(panels=("bonnet",))
    certificate = yard.issue(job)
    place = builders.places_of(job)[0]
    defect = builders.a_defect(builders.a_visit(job), place)
    client = ours.client(ours.desk)

    def pressed(page: str, url: str) -> str:
        """The page behind a link that stands on the page before."""
        links = [unescape(found) for found in re.findall(r'href="([^"]+)"', page)]
        link = next(each for each in links if each.startswith(url))
        return str(client.get(link).content.decode())

    # the first press is the certificate in what the search found
    paper = client.get(reverse("certificate", args=["kiln", certificate.pk])).content.decode()
    listed = pressed(paper, reverse("defects", args=["kiln"]) + "?")
    whole = pressed(listed, reverse("defect", args=["kiln", defect.pk]))
    for words in ("61-0934", "R3", "by method", "What was seen", "Photos", "Full front"):
        assert words in whole, words
    story = pressed(whole, reverse("place-story", args=["kiln", place.pk]))
    assert "Lives" in story
    assert "kind=edge-lift" in unescape(whole)
    assert reverse("lot", args=["kiln", yard.rolls[0].lot_id]) in whole
