"""What the record says by now, and a certificate in force does not: a person issues the next edition."""

from datetime import date

from shopwarranty.jobs.models import FilmPiece

from .models import Certificate


def moved_on(certificate: Certificate) -> tuple[date, ...]:
    """Days on which film that it covers ended, or more film of its job was finished; oldest first.

    Two queries.
    """
    covered = set(certificate.covers.values_list("piece", flat=True))
    rows = FilmPiece.objects.filter(panel_work__job=certificate.job_id, panel_work__finished_at__isnull=False)
    zone = certificate.shop.zone
    days = set()
    for piece in rows.select_related("panel_work", "replaces"):
        finished = piece.panel_work.finished_at
        if piece.pk in covered and piece.ended_on:
            days.add(piece.ended_on)
        elif piece.pk not in covered and piece.ended_on is None and not promised_nothing(piece, certificate):
            days.add(finished.astimezone(zone).date() if finished else certificate.issued_on)
    return tuple(sorted(days))


def promised_nothing(piece: FilmPiece, certificate: Certificate) -> bool:
    """It was there when the certificate was issued, and no cover line is about its film or panel."""
    shown = {each["id"] for panel in certificate.snapshot["panels"] for each in panel["pieces"]}
    return piece.pk in shown
