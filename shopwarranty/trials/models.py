import uuid

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from shopwarranty.jobs.models import Job, Party, Place, Vehicle
from shopwarranty.shops.rows import ShopOwned, one_of
from shopwarranty.shops.triggers import Freeze


class TrialUnit(models.TextChoices):
    SIDES = "sides", _("left and right of one vehicle")
    PLACES = "places", _("alternate places of one panel")
    JOBS = "jobs", _("alternate jobs")


class TrialState(models.TextChoices):
    PLANNED = "planned", _("planned")
    RUNNING = "running", _("running")
    ENOUGH = "enough", _("enough to say")
    NO_DIFFERENCE = "no_difference", _("enough to say there is no difference that matters")
    STOPPED = "stopped", _("stopped")


class Trial(ShopOwned):
    """A technique tried on purpose, with a control, drawn by the tool before laying.

    The question and its plan stand from the start: only how it goes on changes.
    """

    freeze = Freeze(free=("state", "stopped_why", "stop_on"))

    Unit = TrialUnit

    State = TrialState

    number = models.CharField(max_length=24)
    question = models.CharField(max_length=200)
    field = models.CharField(max_length=48, help_text=_("Of the trade, or own:key of a field of the shop's."))
    usual_value = models.CharField(max_length=80)
    other_value = models.CharField(max_length=80)
    less_careful = models.BooleanField()
    unit = models.CharField(max_length=6, choices=Unit.choices)
    panels = models.JSONField(default=list, blank=True)
    places = models.JSONField(default=list, blank=True)
    defect_kinds = models.JSONField(default=list, blank=True)
    by_day = models.PositiveSmallIntegerField()
    ratio_that_matters = models.FloatField(default=2.0)
    most_counted = models.PositiveSmallIntegerField(
        default=80, help_text=_("Pairs that differ, counted at most; fixed before the first is drawn.")
    )
    key = models.UUIDField(default=uuid.uuid4, editable=False, help_text=_("Names its file among others'."))
    units_needed = models.PositiveIntegerField(null=True, blank=True)
    size_words = models.TextField(blank=True)
    check_days = models.JSONField(default=list, blank=True)
    seed = models.BigIntegerField()
    state = models.CharField(max_length=13, choices=State.choices, default=State.PLANNED)
    stop_on = models.DateField(null=True, blank=True)
    stopped_why = models.CharField(max_length=160, blank=True)
    set_up_by = models.ForeignKey("shops.Member", models.PROTECT, related_name="+")
    set_up_at = models.DateTimeField()

    class Meta:
        ordering = ["-set_up_at"]
        indexes = [models.Index(fields=["shop", "state"], name="trial_by_state")]
        constraints = [
            models.UniqueConstraint(fields=["shop", "number"], name="trial_number_once"),
            one_of("trial", "unit", TrialUnit),
            one_of("trial", "state", TrialState),
        ]

    def __str__(self) -> str:
        return self.number


class Consent(ShopOwned):
    """The holder agreed to an arm that is less careful than the method, with unreduced cover."""

    freeze = Freeze(free=("withdrawn_at",), personal=("words",))

    trial = models.ForeignKey(Trial, models.PROTECT, related_name="consents")
    vehicle = models.ForeignKey(Vehicle, models.PROTECT, related_name="+")
    party = models.ForeignKey(Party, models.PROTECT, related_name="+")
    words = models.TextField()
    given_at = models.DateTimeField()
    member = models.ForeignKey("shops.Member", models.PROTECT, related_name="+")
    withdrawn_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["shop", "trial", "vehicle", "party"], name="consent_once")
        ]


class DrawArm(models.TextChoices):
    USUAL = "usual", _("as usual")
    OTHER = "other", _("the other way")


class DrawDoneAs(models.TextChoices):
    DRAWN = "drawn", _("as drawn")
    OTHER = "other", _("as the other arm")
    NEITHER = "neither", _("otherwise: as neither arm")


class Draw(ShopOwned):
    """One unit of a trial and the arm drawn for it. Never drawn again; what was done stands beside it.

    A place; or, without one, a panel; or, without a panel, the whole job. `pair` numbers pairs, and jobs
    where jobs are compared.
    """

    freeze = Freeze(free=("place", "done_as", "done_why", "done_at"))

    Arm = DrawArm

    DoneAs = DrawDoneAs

    trial = models.ForeignKey(Trial, models.PROTECT, related_name="draws")
    pair = models.PositiveIntegerField()
    job = models.ForeignKey(Job, models.PROTECT, related_name="draws")
    panel = models.CharField(max_length=48, blank=True)
    place_key = models.CharField(max_length=48, blank=True)
    place = models.ForeignKey(Place, models.PROTECT, null=True, blank=True, related_name="draws")
    arm = models.CharField(max_length=5, choices=Arm.choices)
    drawn_at = models.DateTimeField()
    drawn_by = models.ForeignKey("shops.Member", models.PROTECT, null=True, related_name="+")
    done_as = models.CharField(max_length=7, choices=DoneAs.choices, blank=True)
    done_why = models.CharField(max_length=160, blank=True)
    done_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["pair", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["shop", "trial", "job", "panel", "place_key"], name="draw_once"),
            one_of("draw", "arm", DrawArm),
            models.CheckConstraint(
                condition=~Q(done_as__in=["other", "neither"]) | ~Q(done_why=""), name="draw_other_has_reason"
            ),
        ]


class OtherFile(ShopOwned):
    """Another shop's file of the same trial, kept as it came to be put together with ours."""

    freeze = Freeze()

    trial = models.ForeignKey(Trial, models.PROTECT, related_name="other_files")
    key = models.CharField(max_length=64)
    content = models.TextField()
    added_at = models.DateTimeField()
    member = models.ForeignKey("shops.Member", models.PROTECT, null=True, related_name="+")

    class Meta:
        ordering = ["key"]
        constraints = [models.UniqueConstraint(fields=["shop", "trial", "key"], name="other_file_once")]
