"""Why an act on a certificate was refused, in a form a page can answer to. Nothing was written."""

from shopwarranty.warranty.legal.items import Disclosure


class CertificateRefusal(Exception):
    """An act on a certificate that is not possible as asked."""


class NoPublicAddress(CertificateRefusal):
    """The shop has no https address that the code on a certificate could lead to."""


class VinToRead(CertificateRefusal):
    """The VIN is still to be read: a certificate is about one certain vehicle."""


class NotACustomersVehicle(CertificateRefusal):
    """The shop's own vehicle or a test panel: nobody is promised anything."""


class PlanNotPublished(CertificateRefusal):
    """The version is a draft."""


class LawAsksFor(CertificateRefusal):
    """Something the law requires is missing; there is no override."""

    def __init__(self, items: tuple[Disclosure, ...]) -> None:
        super().__init__(", ".join(item.identifier for item in items))
        self.items = items


class AlreadyInForce(CertificateRefusal):
    """The job has a certificate in force already; it can only be replaced."""


class NotInForce(CertificateRefusal):
    """The certificate was replaced or withdrawn in the meantime."""


class NothingDiffers(CertificateRefusal):
    """A new edition would say exactly what the present one says."""


class HolderDiffers(CertificateRefusal):
    """The vehicle has another holder than the certificate: that is a sale, unless the name was wrong."""


class SameHolder(CertificateRefusal):
    """The vehicle is this person's already."""


class ConsentNeeded(CertificateRefusal):
    """Nobody said that the new holder agrees to be recorded."""


class DayOutOfOrder(CertificateRefusal):
    """A sale lies between the handover and today."""


class NothingToTransfer(CertificateRefusal):
    """No certificate of this vehicle is in force."""


class TextsUnread(CertificateRefusal):
    """Required wording that was not read at its source, and that nobody of the shop has compared yet."""

    def __init__(self, identifiers: tuple[str, ...]) -> None:
        super().__init__(", ".join(identifiers))
        self.identifiers = identifiers


class ReasonNeeded(CertificateRefusal):
    """This asks for a reason."""


class NoAddressOfHolder(CertificateRefusal):
    """There is no e-mail address to send to."""
