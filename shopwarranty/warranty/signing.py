"""Signing a finished PDF: CMS with ECDSA P-256 and SHA-256 (PAdES, ETSI EN 319 142-1), invisible.

A reader shows a self-made certificate as unknown, so the paper points to its code instead of a seal on it.
The signature proves that not one byte has changed since; who signed says the public page.
"""

import io
from datetime import datetime

from django.conf import settings

from shopwarranty.shops.models import Shop

from .signing_keys import key_in_use


def sign(pdf: bytes, *, shop: Shop, now: datetime) -> bytes:
    """The PDF with a signature added behind its last byte; what stood there stays byte for byte.

    With a time-stamp authority set, its token is inside (RFC 3161); without its answer nothing is issued.
    """
    # Loading these takes a second, and most processes never sign.
    from asn1crypto import keys, x509
    from pyhanko.pdf_utils.incremental_writer import IncrementalPdfFileWriter
    from pyhanko.sign import fields, signers
    from pyhanko.sign.timestamps import HTTPTimeStamper
    from pyhanko_certvalidator.registry import SimpleCertificateStore

    key = key_in_use(shop, now)
    signer = signers.SimpleSigner(
        signing_cert=x509.Certificate.load(key.certificate_der),
        signing_key=keys.PrivateKeyInfo.load(key.key_der),
        cert_registry=SimpleCertificateStore(),  # type: ignore[no-untyped-call]
    )
    said = signers.PdfSignatureMetadata(
        field_name="Issuer",
        md_algorithm="sha256",
        subfilter=fields.SigSeedSubFilter.PADES,
        name=shop.legal_name or shop.name,
    )
    stamper = HTTPTimeStamper(settings.TIMESTAMP_URL) if settings.TIMESTAMP_URL else None
    writer = signers.PdfSigner(said, signer=signer, timestamper=stamper)
    out = io.BytesIO()
    writer.sign_pdf(IncrementalPdfFileWriter(io.BytesIO(pdf)), output=out)
    return out.getvalue()
