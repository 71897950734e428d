"""Signatures: made and read by different programs (poppler's pdfsig, qpdf). ETSI EN 319 142-1, RFC 5480."""

import subprocess
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec, rsa
from cryptography.hazmat.primitives.serialization import pkcs12
from cryptography.x509.oid import NameOID
from django.core.exceptions import ImproperlyConfigured
from django.urls import reverse

from shopwarranty.shops import stored_bytes
from shopwarranty.shops.history import Actor
from shopwarranty.shops.models import Change
from shopwarranty.warranty.models import SigningKey
from shopwarranty.warranty.proof import faults_of
from shopwarranty.warranty.seal import SealLost, seal, unseal
from shopwarranty.warranty.signing_keys import NotASigningKey, bring_key, key_in_use, make_key
from tests.conftest import NOW, ShopPeople
from tests.warranty.conftest import Yard


def pdfsig(content: bytes, folder: Path) -> str:
    file = folder / "signed.pdf"
    file.write_bytes(content)
    done = subprocess.run(["/usr/bin/pdfsig", "-nocert", file], capture_output=True, text=True, check=False)
    return done.stdout


def test_an_issued_certificate_is_signed_sound_and_proved_and_one_flipped_byte_shows(
    yard: Yard, tmp_path: Path
) -> None:
    certificate = yard.issue(yard.job(panels=("bonnet",)))
    content = stored_bytes.read(certificate.pdf_sha256)
    said = pdfsig(content, tmp_path)
    assert "Signature is Valid" in said
    assert "Kiln Lane Film LLC" in said
    assert "SHA-256" in said
    assert "Total document signed" in said
    subprocess.run(["/usr/bin/qpdf", "--check", tmp_path / "signed.pdf"], check=True, capture_output=True)
    assert list(faults_of(certificate)) == []
    for place in (200, len(content) // 3):
        flipped = bytearray(content)
        flipped[place] ^= 1
        assert "Signature is Valid" not in pdfsig(bytes(flipped), tmp_path)


def test_a_shop_has_one_key_on_p_256_made_once(ours: ShopPeople) -> None:
    first, again = key_in_use(ours.shop, NOW), key_in_use(ours.shop, NOW)
    assert first.row.pk == again.row.pk
    key = serialization.load_der_private_key(first.key_der, None)
    assert isinstance(key, ec.EllipticCurvePrivateKey)
    assert key.curve.name == "secp256r1"
    assert first.key_der not in bytes(first.row.sealed)


def test_a_new_key_takes_over_and_the_old_one_is_kept(ours: ShopPeople) -> None:
    first = key_in_use(ours.shop, NOW)
    second = make_key(shop=ours.shop, actor=_owner(ours), now=NOW + timedelta(days=1))
    assert key_in_use(ours.shop, NOW).row.pk == second.row.pk
    first.row.refresh_from_db()
    assert first.row.retired_at is not None
    assert Change.objects.filter(act="signing key").count() == 2


def test_with_another_seal_a_new_key_is_made_and_said(
    ours: ShopPeople, settings: Any, tmp_path: Path
) -> None:
    first = key_in_use(ours.shop, NOW)
    settings.SIGNING_SEAL_FILE = tmp_path / "another"
    second = key_in_use(ours.shop, NOW)
    assert second.row.pk != first.row.pk
    assert "seal does not open" in Change.objects.filter(row=second.row.pk, act="signing key").get().why


def test_what_is_sealed_for_one_shop_does_not_open_for_another() -> None:
    sealed = seal(b"key", b"1:a")
    assert unseal(sealed, b"1:a") == b"key"
    for wrong in ((sealed, b"2:a"), (sealed[:-1] + bytes([sealed[-1] ^ 1]), b"1:a"), (b"short", b"1:a")):
        with pytest.raises(SealLost):
            unseal(*wrong)


def test_the_seals_file_is_private_and_a_bad_setting_stops(settings: Any) -> None:
    seal(b"key", b"1")
    assert settings.SIGNING_SEAL_FILE.stat().st_mode & 0o077 == 0
    settings.SIGNING_SEAL = "too short"
    with pytest.raises(ImproperlyConfigured):
        seal(b"key", b"1")


def own_file(*, key: Any = None, days: int = 300) -> bytes:
    key = key or ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "Kiln Lane by itself")])
    built = x509.CertificateBuilder().subject_name(name).issuer_name(name).public_key(key.public_key())
    built = built.serial_number(7).not_valid_before(NOW - timedelta(days=400))
    certificate = built.not_valid_after(NOW + timedelta(days=days)).sign(key, hashes.SHA256())
    sealed = serialization.BestAvailableEncryption(b"wax")
    return pkcs12.serialize_key_and_certificates(b"own", key, certificate, None, sealed)


def test_a_shop_brings_its_own_key_and_signs_with_it(yard: Yard, tmp_path: Path) -> None:
    bring_key(shop=yard.shop, content=own_file(), password="wax", actor=yard.actor, now=NOW)
    certificate = yard.issue(yard.job(panels=("bonnet",)))
    said = pdfsig(stored_bytes.read(certificate.pdf_sha256), tmp_path)
    assert "Signature is Valid" in said
    assert "Kiln Lane by itself" in said


def test_a_key_that_cannot_sign_is_refused(ours: ShopPeople) -> None:
    rsa_key = rsa.generate_private_key(65537, 2048)
    files = (
        (own_file(), "other"), (b"nothing", ""), (own_file(days=-1), "wax"), (own_file(key=rsa_key), "wax"),
    )  # fmt: skip
    for content, password in files:
        with pytest.raises(NotASigningKey):
            bring_key(shop=ours.shop, content=content, password=password, actor=_owner(ours), now=NOW)
    assert not SigningKey.objects.exists()


def test_the_page_makes_a_new_key_and_gives_the_certificate_away(
    ours: ShopPeople, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("django.utils.timezone.now", lambda: NOW)
    client, page = ours.client(ours.owner), reverse("signing", args=["kiln"])
    assert "made with the first certificate" in client.get(page).content.decode()
    client.post(page, {"rotate": "1"})
    row = SigningKey.objects.get()
    assert row.fingerprint[:16] in client.get(page).content.decode()
    pem = client.get(reverse("signing-certificate", args=["kiln", row.pk])).content
    assert x509.load_pem_x509_certificate(pem).fingerprint(hashes.SHA256()).hex() == row.fingerprint
    assert ours.client(ours.desk).get(page).status_code == 403


def _owner(people: ShopPeople) -> Actor:
    return Actor.of(people.owner)
