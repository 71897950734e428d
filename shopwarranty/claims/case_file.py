"""The whole case as one PDF: report, stages, promise, record, photos, facts, decisions, letters."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Final

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from shopwarranty.jobs.models import Photo
from shopwarranty.jobs.shop_catalogue import ShopCatalogue
from shopwarranty.shops import stored_bytes
from shopwarranty.shops.act_words import act_words
from shopwarranty.shops.models import Change
from shopwarranty.warranty.memory_fetcher import SCHEME, Resource

from .case import ItemCase, case_of, items_of
from .models import Claim, Letter
from .paper import pdf


@dataclass(frozen=True, slots=True)
class Pictures:
    """Photos as the document names them; one whose bytes are gone is said to be gone."""

    by_id: dict[int, Resource]

    @property
    def resources(self) -> dict[str, Resource]:
        return {f"{SCHEME}photo-{pk}": found for pk, found in self.by_id.items()}


def case_file(claim: Claim) -> bytes:
    """Made anew whenever it is asked for, from what is on record then."""
    catalogue = ShopCatalogue(claim.shop)
    cases = [case_of(item, catalogue) for item in items_of(claim)]
    pictures = pictures_of(cases)
    context = {
        "claim": claim,
        "title": _("Case file of claim %(number)s") % {"number": claim.number},
        "cases": cases,
        "steps": steps_of(claim),
        "letters": list(Letter.objects.filter(claim=claim).select_related("sent_by").order_by("sent_at")),
        "have": set(pictures.by_id),
    }
    return pdf("claims/letter/case_file.html", context, claim.shop, pictures.resources)


@dataclass(frozen=True, slots=True)
class Step:
    """One stage of a claim in words: what it came to, why, by whom and when."""

    act: str
    why: str
    who: str
    at: datetime


ACTS: Final = {
    **dict(Claim.State.choices),
    "claim received": gettext_lazy("received"),
    "first report": gettext_lazy("first report corrected"),
    "photo added": gettext_lazy("photo added"),
}


def steps_of(claim: Claim) -> list[Step]:
    """Every stage with when and who, oldest first."""
    rows = Change.objects.filter(table=Claim._meta.db_table, row=claim.pk).order_by("at", "pk")
    return [Step(str(ACTS.get(row.act) or act_words(row.act)), row.why, row.who, row.at) for row in rows]


def pictures_of(cases: Iterable[ItemCase]) -> Pictures:
    found: dict[int, Resource] = {}
    for photo in (photo for case in cases for photo in (*case.before, *case.after)):
        content = bytes_of(photo)
        if content is not None and photo.pk not in found:
            found[photo.pk] = Resource(content, "image/jpeg")
    return Pictures(found)


def bytes_of(photo: Photo) -> bytes | None:
    """The small copy where there is one: a case file goes by mail."""
    try:
        return stored_bytes.read(photo.thumbnail_sha256 or photo.sha256)
    except stored_bytes.DamagedFile:
        return None
