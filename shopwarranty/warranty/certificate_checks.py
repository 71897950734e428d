"""The legal checklist put to a certificate: what the checks read, and the texts the law asks for."""

from dataclasses import replace

from django.utils.translation import gettext as _

from shopwarranty.warranty.certificate_text import (
    CertificateText,
    DisputeProcedure,
    ExpenseBearer,
    PromiseLine,
    Registration,
    StartEvent,
    Supply,
    TransferPolicy,
    Warrantor,
)
from shopwarranty.warranty.cover import Term, parse_term
from shopwarranty.warranty.disclosures import Disclosure, check_certificate, profile_of
from shopwarranty.warranty.legal.profile import Family, LegalProfile
from shopwarranty.warranty.legal_texts import (
    Placement,
    flags_of,
    required_texts,
    texts_to_confirm,
    us_title,
)

from .models import TextConfirmation
from .snapshot_parts import LegalShown, PromiseShown, Snapshot, StatementShown


def text_of(snapshot: Snapshot, *, confirmed: frozenset[str] = frozenset()) -> CertificateText:
    """The certificate as values. It is given with the vehicle, so both moments are that of issue."""
    terms, shop, given = snapshot.terms, snapshot.shop, snapshot.issued_at
    vehicle = snapshot.vehicle
    return CertificateText(
        title=snapshot.legal.title,
        language=snapshot.language,
        profile_version=snapshot.legal.version,
        issued_on=snapshot.issued_on,
        consumer=snapshot.holder.is_consumer,
        holder=snapshot.holder.name,
        vehicle=f"{vehicle.title} {vehicle.vin}".strip(),
        transfer_policy=TransferPolicy(terms.transfer),
        transfer_words=terms.transfer_words,
        products=tuple(str(film) for film in snapshot.films),
        panels=tuple(panel.name for panel in snapshot.panels),
        lines=tuple(_line(promise) for promise in snapshot.promises),
        exclusions=terms.exclusions or None,
        duties=(*terms.duties, *terms.aftercare),
        paid=terms.paid,
        not_paid=terms.not_paid,
        start_event=StartEvent.HANDOVER,
        claim_steps=terms.claim_steps,
        claim_address=shop.address,
        who_performs=terms.who_performs,
        warrantors=tuple(Warrantor(w.name, w.address, w.telephone, w.email) for w in snapshot.warrantors),
        dispute=DisputeProcedure(terms.dispute_procedure) if terms.dispute_procedure else None,
        limits_implied=terms.limits_implied,
        limits_implied_words=terms.limits_implied_words,
        excludes_consequential=terms.excludes_consequential,
        excludes_consequential_words=terms.excludes_consequential_words,
        rights=tuple(statement.words for statement in snapshot.legal.statements),
        registration=Registration.NOT_OFFERED,
        territory=terms.territory,
        supply=Supply.BOTH,
        claim_expense=ExpenseBearer.WARRANTOR if terms.claim_expense_words else ExpenseBearer.CONSUMER,
        claim_expense_words=terms.claim_expense_words,
        quoted_term=Term(months=snapshot.quoted_months) if snapshot.quoted_months else None,
        sent_at=given,
        handover_at=given,
        brands=tuple(word for film in snapshot.films for word in (film.maker, film.name)),
        confirmed=confirmed,
    )


def _line(promise: PromiseShown) -> PromiseLine:
    return PromiseLine(
        promise.title,
        promise.warrantor,
        promise.remedy,
        promise.first_day,
        promise.last_day,
        parse_term(promise.term),
        promise.by_maker,
        promise.makers_terms,
    )


def with_legal_texts(snapshot: Snapshot, profile: LegalProfile) -> Snapshot:
    """The snapshot with its title and every statement the profile asks for: the tool inserts them itself."""
    titled = replace(snapshot, legal=LegalShown(profile.code, profile.version, _title(snapshot, profile), ()))
    texts = required_texts(profile, flags_of(text_of(titled)))
    statements = tuple(
        StatementShown(text.identifier, text.source, text.words, str(text.placement))
        for text in texts
        if text.placement is not Placement.CAPTION
    )
    return replace(titled, legal=replace(titled.legal, statements=statements))


def _title(snapshot: Snapshot, profile: LegalProfile) -> str:
    """US law allows two captions only; elsewhere the word the law itself uses."""
    if profile.family is Family.US:
        terms = {parse_term(promise.term) for promise in snapshot.promises}
        return us_title(terms.pop() if snapshot.terms.is_full and len(terms) == 1 else None)
    titles = {Family.EU: _("Guarantee"), Family.UK: _("Guarantee"), Family.AU: _("Warranty against defects")}
    return titles.get(profile.family, _("Warranty"))


def check(snapshot: Snapshot) -> tuple[Disclosure, ...]:
    """Every item of the profile the snapshot is written under, with what its persons confirmed so far."""
    profile = profile_of(snapshot.legal.profile)
    return check_certificate(profile, text_of(snapshot, confirmed=confirmed_items(profile)))


def confirmed_items(profile: LegalProfile) -> frozenset[str]:
    rows = TextConfirmation.objects.filter(text_version=profile.version)
    return frozenset(rows.values_list("identifier", flat=True))


def unread_texts(snapshot: Snapshot) -> tuple[str, ...]:
    """Required wording on it that was not read at its source and that nobody of the shop has compared yet."""
    profile = profile_of(snapshot.legal.profile)
    wanted = texts_to_confirm(profile, flags_of(text_of(snapshot)))
    confirmed = confirmed_items(profile)
    return tuple(text.confirmed_as for text in wanted if text.confirmed_as not in confirmed)
