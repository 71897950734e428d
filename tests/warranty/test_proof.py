"""One flipped byte anywhere is found, and what does not agree is named."""

from io import StringIO
from typing import Any

import pytest
from django.core.files.storage import default_storage
from django.core.management import CommandError, call_command
from django.db import connection

from shopwarranty.shops.stored_bytes import path_of
from shopwarranty.shops.triggers import install, take_away
from shopwarranty.warranty.models import Certificate
from tests.warranty.conftest import Yard


def verify() -> str:
    said = StringIO()
    call_command("verify_certificates", stdout=said, stderr=said)
    return said.getvalue()


def faults() -> str:
    said = StringIO()
    with pytest.raises(CommandError) as found:
        call_command("verify_certificates", stdout=said, stderr=said)
    assert found.value.returncode == 1
    return said.getvalue()


def overwrite(certificate: Certificate, **columns: Any) -> None:
    """As somebody with the database in hand would do it, past the triggers."""
    without_guards()
    Certificate.objects.filter(pk=certificate.pk).update(**columns)
    install("default")


def without_guards() -> None:
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute("SET CONSTRAINTS ALL IMMEDIATE")  # else what waits for the end forbids it
    take_away("default")


def test_untouched_certificates_agree(yard: Yard) -> None:
    yard.issue()
    assert "1 certificates checked, 0 do not agree" in verify()


@pytest.mark.breaks("a_certificates_paper_lies_under_its_hash")
def test_a_flipped_byte_of_the_file_is_found(yard: Yard) -> None:
    certificate = yard.issue()
    path = default_storage.path(path_of(certificate.pdf_sha256))
    with open(path, "r+b") as file:
        file.seek(4321)
        byte = file.read(1)
        file.seek(4321)
        file.write(bytes([byte[0] ^ 1]))
    assert certificate.number in faults()


@pytest.mark.breaks("a_certificates_paper_lies_under_its_hash")
def test_a_missing_file_is_found(yard: Yard) -> None:
    certificate = yard.issue()
    default_storage.delete(path_of(certificate.pdf_sha256))
    assert "missing" in faults()


def test_a_changed_snapshot_is_found(yard: Yard) -> None:
    certificate = yard.issue()
    snapshot = certificate.snapshot
    snapshot["holder"]["name"] = "B. Example"
    overwrite(certificate, snapshot=snapshot)
    assert "changed after issue" in faults()


def test_a_changed_date_is_found(yard: Yard) -> None:
    certificate = yard.issue()
    line, piece = (certificate.covers.values_list(name, flat=True).first() for name in ("line", "piece"))
    without_guards()
    certificate.covers.filter(line=line, piece=piece).update(last_day="2027-11-24")
    install("default")
    assert "covers differ" in faults()


def test_bytes_of_another_certificate_are_found(yard: Yard) -> None:
    one = yard.issue()
    other = yard.issue(yard.job(vehicle=yard.vehicle(vin="", vin_kind="none")))
    overwrite(one, pdf_sha256=other.pdf_sha256, pdf_length=other.pdf_length)
    assert "not printed from the stored snapshot" in faults()
