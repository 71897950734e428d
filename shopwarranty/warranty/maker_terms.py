"""A film maker's own warranty terms: only with them, by their date, may a maker stand behind a promise."""

import hashlib
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import PurePath

from django.db import transaction

from shopwarranty.films.models import FilmProduct, MakerTerms
from shopwarranty.shops import stored_bytes
from shopwarranty.shops.history import Actor, record_change

MOST_BYTES = 20_000_000


class NotReadable(Exception):
    """Neither a PDF nor plain text."""


class TermsKnown(Exception):
    """The same file is kept for this film with the same date."""


@dataclass(frozen=True, slots=True)
class TermsFile:
    """The maker's file as it was sent."""

    name: str
    content: bytes

    @property
    def content_type(self) -> str:
        """Told from the bytes. Raises NotReadable."""
        if self.content.startswith(b"%PDF-"):
            return "application/pdf"
        try:
            text = self.content.decode()
        except UnicodeDecodeError as problem:
            raise NotReadable from problem
        if not text.strip() or "\0" in text:
            raise NotReadable
        return "text/plain"


def keep_terms(
    *,
    product: FilmProduct,
    file: TermsFile,
    title: str,
    dated: date,
    actor: Actor,
    now: datetime,
    months: int | None = None,
    report_days: int | None = None,
    answer_days: int | None = None,
) -> MakerTerms:
    """Raises NotReadable or TermsKnown. Earlier ones stay: certificates name the terms of their own day."""
    assert file.content_type
    sha256 = hashlib.sha256(file.content).hexdigest()
    if MakerTerms.objects.filter(product=product, dated=dated, sha256=sha256).exists():
        raise TermsKnown
    kept = stored_bytes.keep(file.content)
    with transaction.atomic():
        terms: MakerTerms = MakerTerms.objects.create(
            product=product,
            title=title.strip(),
            dated=dated,
            months=months,
            report_days=report_days,
            answer_days=answer_days,
            sha256=kept.sha256,
            file_name=PurePath(file.name).name[:160],
        )
        after = {"title": terms.title, "dated": dated, "file": kept.sha256}
        record_change(row=terms, act="maker's terms", actor=actor, at=now, after=after)
    return terms
