"""The shop moves, is renamed, or is gone: what was issued stays as it was, and proves itself without us.

E93, E94 of the project's awkward cases (common practice, no source). Signatures: poppler's pdfsig.
"""

import hashlib
import subprocess
from pathlib import Path

import pytest
from django.test import Client

from shopwarranty.jobs import actions as jobs
from shopwarranty.shops import stored_bytes
from shopwarranty.shops.models import Shop
from shopwarranty.warranty import actions
from shopwarranty.warranty.proof import faults_of, names_snapshot
from tests.conftest import NOW
from tests.warranty.conftest import Yard


@pytest.mark.usefixtures("plain_pdf")
def test_E93_a_shop_that_moved_and_was_renamed_keeps_what_its_certificates_said(yard: Yard) -> None:
    first = yard.issue()
    was, street = yard.shop.name, yard.shop.street
    moved = {"name": "Kiln Yard Coatings", "street": "77 New Road", "email": "kiln@shop.example"}
    Shop.objects.filter(pk=yard.shop.pk).update(telephone="555-0123", **moved)
    yard.shop.refresh_from_db()
    first.refresh_from_db()
    assert list(faults_of(first)) == []
    assert first.snapshot["shop"]["name"] == was
    assert first.snapshot["shop"]["street"] == street
    public = Client().get(f"/certificate/{first.number}/{first.code}/").content.decode()
    assert was in public
    assert "Kiln Yard Coatings" in public and "77 New Road" in public
    assert f"tel:{yard.shop.telephone}" in public and f"mailto:{yard.shop.email}" in public
    jobs.change_party(party=first.holder, values={"name": "B. Example"}, actor=yard.actor, now=NOW)
    first = type(first).objects.get(pk=first.pk)  # with the shop as it is by now
    second = actions.replace_certificate(certificate=first, why="name", actor=yard.actor, now=NOW)
    assert second.snapshot["shop"]["name"] == "Kiln Yard Coatings"
    assert second.snapshot["shop"]["street"] == "77 New Road"


def test_E94_the_file_alone_proves_itself_when_there_is_no_shop_any_more(yard: Yard, tmp_path: Path) -> None:
    """With nothing of this program: a digest, a signature, and the name of its snapshot inside."""
    certificate = yard.issue()
    file = tmp_path / "kept.pdf"
    file.write_bytes(stored_bytes.read(certificate.pdf_sha256))
    assert hashlib.sha256(file.read_bytes()).hexdigest() == certificate.pdf_sha256
    assert names_snapshot(file.read_bytes(), certificate.snapshot_sha256)
    said = subprocess.run(["/usr/bin/pdfsig", "-nocert", file], capture_output=True, text=True, check=False)
    assert "Signature is Valid" in said.stdout
    assert "Total document signed" in said.stdout
