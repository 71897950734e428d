"""The claim as one PDF, in the shop's language, from what is on record now."""

from __future__ import annotations

import io

from django.utils.translation import gettext as _
from django.utils.translation import override
from PIL import Image

from shopwarranty.jobs.clean_photo import as_jpeg
from shopwarranty.jobs.models import Photo
from shopwarranty.shops import stored_bytes
from shopwarranty.warranty.memory_fetcher import SCHEME, Resource

from ..models import MakerClaim
from ..paper import pdf
from .dossier import Dossier, dossier_of

LONGEST, QUALITY = 1400, 80


def claim_pdf(claim: MakerClaim) -> bytes:
    with override(claim.shop.language):
        dossier = dossier_of(claim)
        pictures = pictures_of(dossier)
        title = _("Claim %(number)s about %(film)s") % {"number": claim.number, "film": claim.product}
        context = {"title": title, "claim": claim, "dossier": dossier, "have": set(pictures)}
        named = {f"{SCHEME}photo-{pk}": found for pk, found in pictures.items()}
        return pdf("claims/maker/paper.html", context, claim.shop, named)


def pictures_of(dossier: Dossier) -> dict[int, Resource]:
    """By the photo's id; one whose bytes are gone is said to be gone."""
    found = {photo.pk: picture_of(photo) for photo in dossier.photos}
    return {pk: Resource(content, "image/jpeg") for pk, content in found.items() if content is not None}


def picture_of(photo: Photo) -> bytes | None:
    """Large enough to judge film by, small enough to send; it carries nothing of the camera's."""
    try:
        content = stored_bytes.read(photo.sha256)
    except stored_bytes.DamagedFile:
        return None
    with Image.open(io.BytesIO(content), formats=("JPEG",)) as opened:
        return as_jpeg(opened.convert("RGB"), LONGEST, QUALITY)
