"""Every address of the program: who may open it without signing in, and which row of a shop it shows.

A new address fails `test_tenancy_walk` until it is listed here.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from django.conf import settings
from django.urls import URLPattern, URLResolver, get_resolver, reverse

from tests.every_row import Rows

# Open to strangers, and why.
OPEN = {
    "home": "sends to sign-in",
    "sign-in": "has to be",
    "sign-out": "acts on one's own session",
    "welcome": "the token is the key",
    "join": "the token is the key",
    "forgot": "has to be",
    "second-step": "comes after a right password",
    "second-step-set-up": "sends to sign-in",
    "forgot-sent": "has to be",
    "manifest": "says only what the program is called",
    "worker": "a script, the same for everybody",
    "bay-door": "the device's own key is the key",
    "bay-enrol": "the token is the key; it works once",
    "bay-switch": "the device's own key and a PIN are the keys",
    "bay-leave": "acts on one's own session",
    "offline": "says only what works without a network",
    "theme": "a choice of colours for this device",
    "health": "says only whether the worker is alive",
    "bounced": "a signature is the key; the answer tells nothing",
    "mail-files": "for operators; there is no such page for a stranger",
    "mail-file": "for operators; there is no such page for a stranger",
    "stop": "the token is the key; it stops reminders and tells nothing",
    "public-find": "number and code are the key",
    "public-number": "says only that the code is needed",
    "public-certificate": "number and code are the key; no personal data",
    "holder": "the token is the key, here and below",
    "holder-time": "the token is the key",
    "holder-cancel": "the token is the key",
    "holder-sooner": "the token is the key",
    "holder-calendar": "the token is the key",
    "holder-certificate": "the token is the key, for its own certificate",
    "holder-reminders": "the token is the key",
    "holder-report": "the token is the key",
    "holder-report-other": "the token is the key",
    "holder-report-panel": "the token is the key",
    "holder-code": "number and code are the key; says nothing about the holder",
    "holder-enter": "number and code are the key, then a code sent to the holder",
    "calendar-feed": "the token is the key; neither names nor plates",
}

# Which row a page of a shop shows: the name of an attribute of Rows.
SHOWS = {
    "film": "product",
    "invitation-withdraw": "invitation",
    "lot": "lot",
    "lot-quarantine": "lot",
    "measure-roll": "roll",
    "member": "member",
    "member-back": "member",
    "member-leaves": "member",
    "message": "message",
    "message-again": "message",
    "message-aside": "message",
    "address-clear": "marked_address",
    "open-day": "closed_day",
    "roll": "roll",
    "roll-label": "roll",
    "cut-planner": "roll",
    "finish-roll": "roll",
    "job": "job",
    "choose-panels": "job",
    "job-method": "job",
    "job-details": "job",
    "job-work": "job",
    "job-ready": "job",
    "job-session": "job",
    "job-history": "job",
    "job-readings": "job",
    "dew-point": "job",
    "logger-file": "job",
    "job-card": "job",
    "copy-last": "job",
    "copy-undo": "job",
    "job-photos": "job",
    "panel": "panel",
    "confirm-panel": "panel",
    "unconfirm-panel": "panel",
    "finish-panel": "panel",
    "reopen-panel": "panel",
    "drop-panel": "panel",
    "panel-film": "panel",
    "new-piece": "panel",
    "panel-work": "panel",
    "panel-intake": "panel",
    "panel-events": "panel",
    "reading": "reading",
    "settle-item": "removed",
    "take-back-event": "laying_event",
    "place": "place",
    "as-usual-again": "place",
    "undo-deviation": "deviation",
    "vehicle": "vehicle",
    "change-vehicle": "vehicle",
    "vehicle-plate": "vehicle",
    "vehicle-holder": "vehicle",
    "vehicle-sold": "vehicle",
    "start-job": "vehicle",
    "party": "party",
    "personal-data": "party",
    "personal-data-copy": "party",
    "personal-data-erase": "party",
    "photo": "photo",
    "one-photo": "photo",
    "mark-photo": "photo",
    "photo-beside": "photo",
    "photo-move": "photo",
    "photo-aside": "photo",
    "new-method-version": "method",
    "method-retire": "method",
    "method-version": "method_version",
    "field-retire": "shop_field",
    "retire-own-panel": "shop_panel",
    "retire-own-place": "shop_place",
    "check": "check",
    "book-check": "check",
    "note-call": "check",
    "check-aside": "check",
    "check-again": "check",
    "move-booking": "booking",
    "cancel-booking": "booking",
    "booking-not-kept": "booking",
    "report": "report",
    "report-accept": "report",
    "report-aside": "report",
    "report-again": "report",
    "holder-links": "vehicle",
    "holder-links-revoke": "vehicle",
    "calendar-feed-revoke": "calendar_feed",
    "start-visit": "check",
    "start-look": "job",
    "start-handover-look": "job",
    "visit": "visit",
    "visit-go-on": "visit",
    "visit-finish": "visit",
    "visit-spots": "visit",
    "visit-signature": "visit",
    "visit-drop": "visit",
    "not-ours": "visit",
    "check-panel": "visit",
    "sweep-undo": "visit",
    "place-unrecorded": "visit",
    "correct-finding": "finding",
    "defect": "defect",
    "judge-cause": "defect",
    "verify-defect": "defect",
    "record-remedy": "defect",
    "defect-photos": "defect",
    "place-story": "place",
    "defect-kind-retire": "defect_kind",
    "certificate": "certificate",
    "certificate-pdf": "certificate",
    "certificate-send": "certificate",
    "certificate-replace": "certificate",
    "certificate-withdraw": "certificate",
    "certificate-batch": "certificate_batch",
    "certificate-batch-stop": "certificate_batch",
    "corrective-action": "corrective_action",
    "action-in-use": "corrective_action",
    "action-effect": "corrective_action",
    "action-close": "corrective_action",
    "action-drop": "corrective_action",
    "action-reopen": "corrective_action",
    "trial": "trial",
    "trial-pdf": "trial",
    "trial-file": "trial",
    "trial-places": "trial",
    "trial-pair": "trial",
    "trial-draw": "trial",
    "trial-consent": "trial",
    "trial-stop": "trial",
    "trial-adopt": "trial",
    "trial-pool": "trial",
    "draw-done": "draw",
    "new-claim": "vehicle",
    "claim": "claim",
    "claim-case-file": "claim",
    "claim-photos": "claim",
    "claim-from-report": "report",
    "claim-acknowledge": "claim",
    "claim-assess": "claim",
    "claim-first-report": "claim",
    "claim-tell": "claim",
    "claim-remedied": "claim",
    "claim-close": "claim",
    "claim-reopen": "claim",
    "claim-match": "claim_item",
    "claim-fact": "claim_item",
    "claim-decide": "claim_item",
    "claim-fact-aside": "claim_fact",
    "claim-letter": "claim_letter",
    "maker-claim": "maker_claim",
    "maker-claim-change": "maker_claim",
    "maker-claim-pdf": "maker_claim",
    "maker-claim-send": "maker_claim",
    "maker-claim-answer": "maker_claim",
    "maker-claim-drop": "maker_claim",
    "signing-certificate": "signing_key",
    "maker-terms-file": "maker_terms",
    "plan-edit": "plan",
    "plan-standing": "plan",
    "plan-version": "plan_version",
    "plan-version-pdf": "plan_version",
    "plan-publish": "plan_version",
    "bay-check-hours": "bay",
    "bay-device-revoke": "bay_device",
    "check-plan": "check_plan",
    "check-plan-standing": "check_plan",
    "check-plan-undo": "check_plan",
    "want-earlier": "check",
    "offer-earlier": "check",
    "hand-over": "job",
    "hand-over-preview": "job",
    "hand-over-look": "job",
    "hand-over-look-clean": "job",
    "handed-over": "job",
    "issue-apart": "job",
}
# The second row an address names.
ALSO_SHOWS = {
    "hand-over-look-clean": "panel",
    "check-panel": "panel",
    "sweep-undo": "panel",
    "place-unrecorded": "panel",
    "check-plan-undo": "plan_change",
}


# What else an address says beside the row.
SAYS_MORE = {"trial-pair": (1,), "photo": ("small",)}


@dataclass(frozen=True, slots=True)
class Page:
    name: str
    arguments: tuple[str, ...]
    view: Any


def every_page(patterns: Any = None, before: tuple[str, ...] = ()) -> Iterator[Page]:
    for each in patterns or get_resolver().url_patterns:
        names = before + tuple(each.pattern.converters)
        if isinstance(each, URLResolver):
            if str(each.pattern) != f"{settings.ADMIN_PATH}/":
                yield from every_page(each.url_patterns, names)
        elif isinstance(each, URLPattern):
            assert each.name, f"{each.pattern} has no name"
            yield Page(each.name, names, each.callback)


PAGES = list(every_page())
OF_SHOP = [page for page in PAGES if "shop" in page.arguments]


def address(page: Page, shop: str, rows: Rows) -> str:
    more = [getattr(rows, SHOWS[page.name])] if len(page.arguments) > 1 else []
    if page.name in ALSO_SHOWS:
        more.append(getattr(rows, ALSO_SHOWS[page.name]))
    return reverse(page.name, args=[shop, *more, *SAYS_MORE.get(page.name, ())])
