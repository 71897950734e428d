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
@pytest.mark.parametrize("asked", ["7FN 402", "KL-26-0001-10"])
def test_from_plate_or_certificate_it_takes_four_presses(
    ours: ShopPeople, monkeypatch: pytest.MonkeyPatch, asked: str
) -> None:
    """Search by plate or number, then press links that stand on the pages."""
    monkeypatch.setattr("django.utils.timezone.now", lambda: NOW)
    yard = make_yard(ours)
    job = yard.job(panels=("bonnet",))
    certificate = yard.issue(job)
    place = builders.places_of(job)[0]
    defect = builders.a_defect(builders.a_visit(job), place)
    client = ours.client(ours.desk)

    presses = []

    def pressed(page: str, url: str) -> str:
        """The page behind a link that stands on the page before."""
        presses.append(url)
        links = [unescape(found) for found in re.findall(r'href="([^"]+)"', page)]
        link = next(each for each in links if each.startswith(url))
        return str(client.get(link).content.decode())

    answer = client.get(reverse("search", args=["kiln"]), {"q": asked}, follow=True)
    opened = answer.content.decode()
    if answer.redirect_chain:  # one thing is called that, and it opens at once
        presses.append(answer.redirect_chain[-1][0])
    else:
        opened = pressed(opened, reverse("vehicle", args=["kiln", job.vehicle_id]))
    listed = pressed(opened, reverse("defects", args=["kiln"]) + "?")
    whole = pressed(listed, reverse("defect", args=["kiln", defect.pk]))
    for words in ("61-0934", "R3", "by method", "What was seen", "Photos", "Full front", "Conditions"):
        assert words in whole, words
    assert "kind=edge-lift" in unescape(whole)  # the same kind on this panel elsewhere
    assert reverse("lot", args=["kiln", yard.rolls[0].lot_id]) in whole  # the same lot
    story = pressed(whole, reverse("place-story", args=["kiln", place.pk]))
    assert "Lives" in story
    for words in ("What was promised for it", certificate.number, "November 25, 2027", "in cover"):
        assert words in story, words
    assert len(presses) == 4
