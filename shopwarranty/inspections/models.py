import uuid

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from shopwarranty.jobs.models import HolderLink, Job, Party, Photo, Place, Vehicle
from shopwarranty.shops.rows import PhoneMade, ShopOwned, one_of
from shopwarranty.shops.triggers import Freeze

from .holder_models import AskedOften as AskedOften
from .holder_models import OneTimeCode as OneTimeCode
from .rule_models import BayHours as BayHours
from .rule_models import CheckRules as CheckRules
from .rule_models import MessageText as MessageText
from .rule_models import OwnDay as OwnDay


class CheckPlanPlaces(models.TextChoices):
    ALL = "all", _("all places")
    RECESSES = "recesses", _("recesses")
    LIKELIEST = "likeliest", _("those likeliest to lift")


class CheckPlan(ShopOwned):
    """When a vehicle is asked back, counted from handover, and which places are looked at."""

    Places = CheckPlanPlaces

    key = models.SlugField(max_length=24)
    name = models.CharField(max_length=80)
    offset_days = models.PositiveSmallIntegerField(default=0)
    offset_months = models.PositiveSmallIntegerField(default=0)
    days_before = models.PositiveSmallIntegerField(default=0)
    days_after = models.PositiveSmallIntegerField(default=0)
    minutes = models.PositiveSmallIntegerField(default=45)
    places = models.CharField(max_length=9, choices=Places.choices, default=Places.ALL)
    offered_to_holder = models.BooleanField(default=True)
    repeats_yearly = models.BooleanField(default=False)
    retired_at = models.DateTimeField(null=True, blank=True)
    version = models.PositiveIntegerField(default=1, editable=False)

    class Meta:
        ordering = ["offset_months", "offset_days"]
        constraints = [
            models.UniqueConstraint(fields=["shop", "key"], name="check_plan_once"),
            one_of("check_plan", "places", CheckPlanPlaces),
        ]

    def __str__(self) -> str:
        return self.name


class CheckState(models.TextChoices):
    DUE = "due", _("due")
    DONE = "done", _("done")
    MISSED = "missed", _("missed")
    WAIVED = "waived", _("waived")


class Check(ShopOwned):
    """A planned look at a job's panels. An offer to the holder: missing it never ends cover."""

    State = CheckState

    job = models.ForeignKey(Job, models.PROTECT, related_name="checks")
    plan = models.ForeignKey(CheckPlan, models.PROTECT, related_name="checks")
    due_on = models.DateField()
    window_from = models.DateField()
    window_to = models.DateField()
    state = models.CharField(max_length=6, choices=State.choices, default=State.DUE)
    state_why = models.CharField(max_length=160, blank=True)
    settled_at = models.DateTimeField(null=True, blank=True)
    earlier_wanted = models.BooleanField(default=False)
    earlier_since = models.DateTimeField(null=True, blank=True)
    offered_at = models.DateTimeField(
        null=True, blank=True, help_text=_("When it was offered in writing, or nobody could be written to.")
    )

    class Meta:
        ordering = ["due_on", "pk"]
        indexes = [
            models.Index(fields=["shop", "state", "due_on"], name="check_by_due"),
            models.Index(fields=["shop", "job"], name="check_of_job"),
            models.Index(
                fields=["shop", "window_from"],
                condition=Q(state="due", offered_at__isnull=True),
                name="check_to_offer",
            ),
            models.Index(
                fields=["shop", "earlier_since"],
                condition=Q(earlier_wanted=True),
                name="check_earlier_wanted",
            ),
        ]
        constraints = [
            one_of("check", "state", CheckState),
            models.UniqueConstraint(fields=["shop", "job", "plan", "due_on"], name="check_once"),
            models.CheckConstraint(
                condition=Q(window_from__lte=models.F("due_on"), due_on__lte=models.F("window_to")),
                name="check_due_in_window",
            ),
        ]


class BookingState(models.TextChoices):
    BOOKED = "booked", _("booked")
    KEPT = "kept", _("kept")
    MOVED = "moved", _("moved")
    CANCELLED_HOLDER = "cancelled_holder", _("cancelled by the holder")
    CANCELLED_SHOP = "cancelled_shop", _("cancelled by the shop")
    NOT_KEPT = "not_kept", _("not kept")


class Booking(ShopOwned):
    """A promised time. `starts_local` and the zone are the intent; `starts_at` is worked out from them.

    A move leaves this row as it was promised, as moved, and makes the next one with the same `uid`.
    """

    State = BookingState

    check_due = models.ForeignKey(Check, models.PROTECT, related_name="bookings")
    uid = models.UUIDField(default=uuid.uuid4, editable=False)
    sequence = models.PositiveIntegerField(default=0)
    starts_local = models.CharField(max_length=16, help_text="2026-11-25T13:30, in the shop's zone")
    zone = models.CharField(max_length=60)
    starts_at = models.DateTimeField()
    minutes = models.PositiveSmallIntegerField()
    lane = models.PositiveSmallIntegerField(help_text="Bay by position; lanes past the last bay are extra.")
    state = models.CharField(max_length=16, choices=State.choices, default=State.BOOKED)
    over_capacity_why = models.CharField(max_length=160, blank=True)
    booked_at = models.DateTimeField()
    booked_by = models.ForeignKey("shops.Member", models.PROTECT, null=True, blank=True, related_name="+")
    by_holder = models.BooleanField(default=False)
    changed_at = models.DateTimeField()
    reminded_early_at = models.DateTimeField(null=True, blank=True)
    reminded_late_at = models.DateTimeField(null=True, blank=True)
    missed_said_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["starts_at"]
        indexes = [
            models.Index(fields=["shop", "starts_at"], name="booking_by_time"),
            models.Index(fields=["shop", "starts_at"], condition=Q(state="booked"), name="booking_to_come"),
            models.Index(
                fields=["shop", "changed_at"],
                condition=Q(state="not_kept", missed_said_at__isnull=True),
                name="booking_missed_unsaid",
            ),
        ]
        constraints = [
            one_of("booking", "state", BookingState),
            models.UniqueConstraint(
                fields=["shop", "check_due"],
                condition=Q(state="booked"),
                name="booking_one_open",
                violation_error_message=_("This check already has a time."),
            ),
            models.UniqueConstraint(fields=["shop", "uid", "sequence"], name="booking_sequence_once"),
        ]


class BookedQuarter(ShopOwned):
    """A quarter of an hour of one lane that is taken. Its uniqueness is what makes overbooking impossible."""

    booking = models.ForeignKey(Booking, models.CASCADE, related_name="quarters")
    lane = models.PositiveSmallIntegerField()
    quarter = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["shop", "quarter", "lane"],
                name="quarter_once_a_lane",
                violation_error_message=_("That time has just been taken."),
            )
        ]


class ContactAttemptResult(models.TextChoices):
    REACHED = "reached", _("reached")
    MESSAGE_LEFT = "message_left", _("message left")
    NO_ANSWER = "no_answer", _("no answer")
    WRONG_NUMBER = "wrong_number", _("wrong number")
    CALL_AGAIN = "call_again", _("call again")
    DECLINED = "declined", _("does not want a check")


class ContactAttempt(ShopOwned):
    """Who tried to reach the holder, when, how, and what came of it."""

    freeze = Freeze(personal=("note",))

    Result = ContactAttemptResult

    check_due = models.ForeignKey(Check, models.PROTECT, null=True, blank=True, related_name="attempts")
    vehicle = models.ForeignKey(Vehicle, models.PROTECT, related_name="+")
    party = models.ForeignKey(Party, models.PROTECT, null=True, blank=True, related_name="+")
    at = models.DateTimeField()
    member = models.ForeignKey("shops.Member", models.PROTECT, null=True, related_name="+")
    how = models.CharField(max_length=12, default="telephone")
    result = models.CharField(max_length=12, choices=Result.choices)
    again_at = models.DateTimeField(null=True, blank=True)
    note = models.CharField(max_length=240, blank=True)

    class Meta:
        ordering = ["-at", "-pk"]
        indexes = [models.Index(fields=["shop", "check_due", "-at"], name="attempt_of_check")]
        constraints = [one_of("contact_attempt", "result", ContactAttemptResult)]


class VisitState(models.TextChoices):
    OPEN = "open", _("being looked at")
    FINISHED = "finished", _("finished")
    DROPPED = "dropped", _("started by mistake")


class VisitOrigin(models.TextChoices):
    PLANNED = "planned", _("planned check")
    WALK_IN = "walk_in", _("walked in")
    DEFECT = "defect", _("came back because of a defect")
    CLAIM = "claim", _("claim")


class Visit(PhoneMade):
    """The vehicle in front of us again, or photos of it."""

    State = VisitState

    Origin = VisitOrigin

    job = models.ForeignKey(Job, models.PROTECT, related_name="visits")
    check_due = models.ForeignKey(Check, models.PROTECT, null=True, blank=True, related_name="visits")
    booking = models.ForeignKey(Booking, models.PROTECT, null=True, blank=True, related_name="visits")
    state = models.CharField(max_length=8, choices=State.choices, default=State.OPEN)
    origin = models.CharField(max_length=7, choices=Origin.choices)
    is_handover_look = models.BooleanField(default=False)
    by_photo = models.BooleanField(default=False)
    since_when = models.DateField(null=True, blank=True, help_text=_("Since when, as the holder says."))
    since_when_words = models.CharField(max_length=120, blank=True)
    happened_on = models.DateField(help_text=_("Day in the shop's zone."))
    started_at = models.DateTimeField()
    finished_at = models.DateTimeField(null=True, blank=True)
    entered_at = models.DateTimeField()
    odometer_km = models.PositiveIntegerField(null=True, blank=True)
    member = models.ForeignKey("shops.Member", models.PROTECT, null=True, blank=True, related_name="+")
    signed_name = models.CharField(max_length=160, blank=True)
    signature_sha256 = models.CharField(max_length=64, blank=True)
    note = models.TextField(blank=True)
    result_said_at = models.DateTimeField(null=True, blank=True)

    class Meta(PhoneMade.Meta):
        ordering = ["happened_on", "pk"]
        indexes = [
            models.Index(fields=["shop", "job", "happened_on"], name="visit_of_job"),
            models.Index(fields=["shop", "state", "happened_on"], name="visit_by_day"),
            models.Index(
                fields=["shop", "finished_at"],
                condition=Q(state="finished", result_said_at__isnull=True),
                name="visit_result_unsaid",
            ),
        ]
        constraints = [
            *PhoneMade.Meta.constraints,
            one_of("visit", "state", VisitState),
            one_of("visit", "origin", VisitOrigin),
            models.UniqueConstraint(
                fields=["shop", "job"],
                condition=Q(is_handover_look=True, state="finished"),
                name="one_handover_look",
            ),
            models.UniqueConstraint(
                fields=["shop", "job", "by_photo"], condition=Q(state="open"), name="visit_one_open"
            ),
        ]


class FindingResult(models.TextChoices):
    CLEAN = "clean", _("looked, clean")
    DEFECT = "defect", _("wrong")
    NOT_LOOKED = "not_looked", _("not looked at")


class FindingSaid(models.TextChoices):
    TAPPED = "tapped", _("tapped by itself")
    SWEPT = "swept", _("with the rest of the panel")
    SPOT_PROVED = "spot_proved", _("drawn at random and tapped")
    LEFT = "left", _("nothing was said")
    IMPORTED = "imported", _("imported")


class Finding(PhoneMade):
    """What a visit saw at one place. Free to change while it is open; afterwards corrected by a new row."""

    freeze = Freeze(
        free=("corrected_at", "version"),
        when="(SELECT state FROM inspections_visit WHERE id = OLD.visit_id) = 'finished'",
    )

    Result = FindingResult

    Said = FindingSaid

    visit = models.ForeignKey(Visit, models.PROTECT, related_name="findings")
    place = models.ForeignKey(Place, models.PROTECT, related_name="findings")
    result = models.CharField(max_length=10, choices=Result.choices)
    why_not = models.CharField(max_length=120, blank=True)
    said = models.CharField(max_length=11, choices=Said.choices)
    at = models.DateTimeField()
    order = models.PositiveIntegerField(default=0)
    corrects = models.ForeignKey("self", models.PROTECT, null=True, blank=True, related_name="corrected_by")
    correction_why = models.CharField(max_length=160, blank=True)
    corrected_at = models.DateTimeField(null=True, blank=True)

    class Meta(PhoneMade.Meta):
        ordering = ["order", "pk"]
        constraints = [
            *PhoneMade.Meta.constraints,
            one_of("finding", "result", FindingResult),
            one_of("finding", "said", FindingSaid),
            models.UniqueConstraint(
                fields=["shop", "visit", "place"],
                condition=Q(corrected_at__isnull=True),
                name="finding_once_a_visit",
            ),
            models.CheckConstraint(
                condition=Q(result="not_looked") | Q(why_not=""), name="finding_why_not_only_unseen"
            ),
        ]


class HolderReportState(models.TextChoices):
    WAITING = "waiting", _("waiting")
    ACCEPTED = "accepted", _("accepted")
    SET_ASIDE = "set_aside", _("set aside")


class HolderReport(ShopOwned):
    """What a holder sent in, kept apart until the desk accepts it. It never says "clean" of unseen places."""

    State = HolderReportState

    vehicle = models.ForeignKey(Vehicle, models.PROTECT, related_name="reports")
    job = models.ForeignKey(Job, models.PROTECT, null=True, blank=True, related_name="reports")
    party = models.ForeignKey(Party, models.PROTECT, null=True, blank=True, related_name="+")
    link = models.ForeignKey(HolderLink, models.PROTECT, null=True, blank=True, related_name="+")
    sent_as = models.UUIDField(
        null=True, blank=True, editable=False, help_text=_("Made by the form: sent twice, kept once.")
    )
    panel = models.CharField(max_length=48, blank=True)
    place = models.ForeignKey(Place, models.PROTECT, null=True, blank=True, related_name="+")
    words = models.TextField(blank=True)
    since_when = models.DateField(null=True, blank=True)
    since_until = models.DateField(
        null=True, blank=True, help_text=_("The latest day it can have begun; since_when: the earliest.")
    )
    since_when_words = models.CharField(max_length=120, blank=True)
    state = models.CharField(max_length=9, choices=State.choices, default=State.WAITING)
    set_aside_why = models.CharField(max_length=160, blank=True)
    sent_at = models.DateTimeField()
    settled_at = models.DateTimeField(null=True, blank=True)
    settled_by = models.ForeignKey("shops.Member", models.PROTECT, null=True, blank=True, related_name="+")
    visit = models.ForeignKey(Visit, models.PROTECT, null=True, blank=True, related_name="reports")

    class Meta:
        ordering = ["-sent_at"]
        indexes = [
            models.Index(fields=["shop", "state", "sent_at"], name="report_waiting"),
            models.Index(fields=["shop", "link", "sent_at"], name="report_of_link"),
        ]
        constraints = [
            one_of("holder_report", "state", HolderReportState),
            models.UniqueConstraint(fields=["shop", "sent_as"], name="holder_report_sent_once"),
        ]


class ReportPhoto(ShopOwned):
    report = models.ForeignKey(HolderReport, models.PROTECT, related_name="photos")
    photo = models.ForeignKey(Photo, models.PROTECT, related_name="+")

    class Meta:
        constraints = [models.UniqueConstraint(fields=["shop", "report", "photo"], name="report_photo_once")]


class CalendarFeed(ShopOwned):
    """A private subscription of a member or a bay. Only the hash of its token is kept."""

    member = models.ForeignKey("shops.Member", models.PROTECT, null=True, blank=True, related_name="+")
    bay = models.ForeignKey("shops.Bay", models.PROTECT, null=True, blank=True, related_name="+")
    token_hash = models.CharField(max_length=64, unique=True)
    made_at = models.DateTimeField()
    revoked_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        indexes = [models.Index(fields=["shop", "made_at"], name="calendar_feed_made")]
