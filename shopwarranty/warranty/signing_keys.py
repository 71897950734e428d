"""The signing key of a shop: made with its first certificate, rotated, or brought by the shop."""

from dataclasses import dataclass
from datetime import datetime, timedelta

from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.serialization import pkcs12
from cryptography.x509.oid import NameOID
from django.db import IntegrityError, transaction
from django.utils.translation import gettext as _

from shopwarranty.shops.history import Actor, record_change
from shopwarranty.shops.models import Shop

from .models import SigningKey
from .seal import SealLost, seal, unseal

YEARS_VALID = 30
TOOL = Actor(who="shopwarranty")


class NotASigningKey(Exception):
    """The file is no PKCS #12 with an elliptic-curve key and its certificate, or the password is wrong."""


@dataclass(frozen=True, slots=True)
class Opened:
    """Key and certificate as PKCS #8 and X.509 in DER; in memory only."""

    row: SigningKey
    key_der: bytes
    certificate_der: bytes


def key_in_use(shop: Shop, now: datetime) -> Opened:
    """The shop's key; the first certificate makes it. Where the seal is lost, a new key takes its place.

    What was signed with the old one stays valid: its certificate is inside each file.
    """
    row = SigningKey.objects.filter(retired_at__isnull=True).first()
    if row is None:
        return make_key(shop=shop, actor=TOOL, now=now)
    try:
        return opened(row)
    except SealLost:
        return make_key(shop=shop, actor=TOOL, now=now, why=_("the seal does not open the key before"))


def opened(row: SigningKey) -> Opened:
    key = unseal(bytes(row.sealed), about(row.shop_id, row.fingerprint))
    certificate = x509.load_pem_x509_certificate(row.certificate_pem.encode())
    return Opened(row, key, certificate.public_bytes(serialization.Encoding.DER))


def about(shop_id: int, fingerprint: str) -> bytes:
    return f"{shop_id}:{fingerprint}".encode()


def make_key(*, shop: Shop, actor: Actor, now: datetime, why: str = "") -> Opened:
    """A new ECDSA P-256 key with a certificate signed by itself, in use from now on: rotation is this too."""
    key = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, (shop.legal_name or shop.name)[:64])])
    usage = x509.KeyUsage(True, True, False, False, False, False, False, False, False)
    certificate = (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(name)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - timedelta(days=1))
        .not_valid_after(now + timedelta(days=365 * YEARS_VALID))
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(usage, critical=True)
        .sign(key, hashes.SHA256())
    )
    return take(shop, key, certificate, actor=actor, now=now, why=why, is_own=False)


def bring_key(*, shop: Shop, content: bytes, password: str, actor: Actor, now: datetime) -> Opened:
    """The shop's own key and certificate from a PKCS #12 file. Raises NotASigningKey."""
    try:
        key, certificate, _chain = pkcs12.load_key_and_certificates(content, password.encode() or None)
    except ValueError as problem:
        raise NotASigningKey from problem
    if not isinstance(key, ec.EllipticCurvePrivateKey) or certificate is None:
        raise NotASigningKey
    if certificate.not_valid_after_utc <= now or certificate.public_key() != key.public_key():
        raise NotASigningKey
    return take(shop, key, certificate, actor=actor, now=now, why="", is_own=True)


def take(
    shop: Shop,
    key: ec.EllipticCurvePrivateKey,
    certificate: x509.Certificate,
    *,
    actor: Actor,
    now: datetime,
    why: str,
    is_own: bool,
) -> Opened:
    """In use from now on; the one before is retired and kept. Two at once agree on one."""
    fingerprint = certificate.fingerprint(hashes.SHA256()).hex()
    der = key.private_bytes(
        serialization.Encoding.DER, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
    )
    try:
        with transaction.atomic():
            SigningKey.objects.filter(retired_at__isnull=True).update(retired_at=now)
            row = SigningKey.objects.create(
                sealed=seal(der, about(shop.pk, fingerprint)),
                certificate_pem=certificate.public_bytes(serialization.Encoding.PEM).decode(),
                fingerprint=fingerprint,
                is_own=is_own,
                made_at=now,
                made_by=actor.member,
            )
            after = {"fingerprint": fingerprint, "own": is_own}
            record_change(row=row, act="signing key", actor=actor, at=now, after=after, why=why)
    except IntegrityError:
        return opened(SigningKey.objects.get(retired_at__isnull=True))
    return Opened(row, der, certificate.public_bytes(serialization.Encoding.DER))
