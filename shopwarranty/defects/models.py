from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from shopwarranty.films.models import Cut
from shopwarranty.inspections.models import Finding, Visit
from shopwarranty.jobs.models import FilmPiece, Job, Photo, Place
from shopwarranty.shops.rows import PhoneMade, ShopOwned, basis_field, degrees, one_of, value_has_basis
from shopwarranty.shops.triggers import Freeze

from .kind_in_words import kind_in_words
from .spot_models import PanelLook as PanelLook
from .spot_models import SpotProof as SpotProof


class ShopDefectKind(ShopOwned):
    """A kind of defect that the shop added to the catalogue."""

    key = models.SlugField(max_length=40)
    name = models.CharField(max_length=80)
    graded_by = models.CharField(max_length=10, default="length")
    is_failure = models.BooleanField(default=True)
    families = models.JSONField(default=list, blank=True)
    place_kinds = models.JSONField(default=list, blank=True)
    retired_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["name"]
        constraints = [models.UniqueConstraint(fields=["shop", "key"], name="shop_defect_kind_once")]


class DefectState(models.TextChoices):
    OPEN = "open", _("open")
    REMEDIED = "remedied", _("put right")
    NOT_REPRODUCED = "not_reproduced", _("could not be found again")
    ENDED = "ended", _("ended with its film")


class DefectSure(models.TextChoices):
    GUESS = "guess", _("a guess")
    LIKELY = "likely", _("likely")
    CERTAIN = "certain", _("certain")


class Defect(PhoneMade):
    """Something wrong at one place, of one kind, from its first sighting until it is put right.

    What was seen stands in the sightings; the cause is judged apart from it and may stay unknown.
    """

    freeze = Freeze(
        free=(
            "state",
            "cause",
            "cause_sure",
            "cause_judged_by",
            "cause_judged_at",
            "verified",
            "verified_by",
            "verified_at",
            "kept_film_where",
            "kept_film_until",
            "version",
        ),
        # until the visit that first saw it is finished, a slip of the finger can be taken back
        when=(
            "EXISTS (SELECT 1 FROM defects_sighting s JOIN inspections_finding f ON f.id = s.finding_id "
            "JOIN inspections_visit v ON v.id = f.visit_id "
            "WHERE s.defect_id = OLD.id AND v.state = 'finished')"
        ),
    )

    State = DefectState

    Sure = DefectSure

    number = models.CharField(max_length=24)
    place = models.ForeignKey(Place, models.PROTECT, related_name="defects")
    kind = models.CharField(max_length=40)
    kind_words = models.CharField(max_length=80, help_text=_("The kind's name at that time."))
    found_on = models.DateField()
    at_handover = models.BooleanField(
        default=False, help_text=_("Rework before the vehicle left; not a failure.")
    )
    recurrence_of = models.ForeignKey(
        "self", models.PROTECT, null=True, blank=True, related_name="recurrences"
    )
    state = models.CharField(max_length=14, choices=State.choices, default=State.OPEN)
    cause = models.CharField(max_length=40, blank=True)
    cause_sure = models.CharField(max_length=8, choices=Sure.choices, blank=True)
    cause_judged_by = models.ForeignKey(
        "shops.Member", models.PROTECT, null=True, blank=True, related_name="+"
    )
    cause_judged_at = models.DateTimeField(null=True, blank=True)
    verified = models.BooleanField(null=True, blank=True)
    verified_by = models.ForeignKey("shops.Member", models.PROTECT, null=True, blank=True, related_name="+")
    verified_at = models.DateTimeField(null=True, blank=True)
    kept_film_where = models.CharField(max_length=80, blank=True)
    kept_film_until = models.DateField(null=True, blank=True)

    class Meta(PhoneMade.Meta):
        ordering = ["-found_on", "-pk"]
        indexes = [models.Index(fields=["shop", "state", "-found_on"], name="defect_by_state")]
        constraints = [
            *PhoneMade.Meta.constraints,
            models.UniqueConstraint(fields=["shop", "number"], name="defect_number_once"),
            one_of("defect", "state", DefectState),
            models.UniqueConstraint(
                fields=["shop", "place", "kind"],
                condition=Q(state="open"),
                name="defect_one_open",
                violation_error_message=_("This defect is already open; add a sighting to it."),
            ),
            models.CheckConstraint(
                condition=Q(cause="", cause_sure="") | (~Q(cause="") & ~Q(cause_sure="")),
                name="defect_cause_how_sure",
            ),
        ]

    def __str__(self) -> str:
        return self.number

    @property
    def kind_said(self) -> str:
        return kind_in_words(self.kind, self.kind_words)


class Sighting(PhoneMade):
    """One look at a defect: how large, how bad. The trend is the row of them."""

    freeze = Freeze(
        free=("version",),
        when=(
            "(SELECT v.state FROM inspections_visit v JOIN inspections_finding f ON f.visit_id = v.id "
            "WHERE f.id = OLD.finding_id) = 'finished'"
        ),
    )

    defect = models.ForeignKey(Defect, models.PROTECT, related_name="sightings")
    finding = models.ForeignKey(Finding, models.PROTECT, related_name="sightings")
    extent_mm = models.FloatField(null=True, blank=True)
    depth_mm = models.FloatField(null=True, blank=True)
    count = models.PositiveSmallIntegerField(null=True, blank=True)
    severity = models.PositiveSmallIntegerField()
    note = models.CharField(max_length=240, blank=True)

    class Meta(PhoneMade.Meta):
        ordering = ["pk"]
        constraints = [
            *PhoneMade.Meta.constraints,
            models.UniqueConstraint(fields=["shop", "defect", "finding"], name="sighting_once"),
            models.CheckConstraint(condition=Q(severity__lte=4), name="sighting_severity_0_to_4"),
        ]


class DefectPhoto(ShopOwned):
    defect = models.ForeignKey(Defect, models.PROTECT, related_name="photos")
    photo = models.ForeignKey(Photo, models.PROTECT, related_name="+")

    class Meta:
        constraints = [models.UniqueConstraint(fields=["shop", "defect", "photo"], name="defect_photo_once")]


class Remedy(PhoneMade):
    """What was done about a defect. It starts a new life of the place."""

    freeze = Freeze(free=("version",))

    defect = models.ForeignKey(Defect, models.PROTECT, related_name="remedies")
    kind = models.CharField(max_length=24)
    done_on = models.DateField()
    done_at = models.DateTimeField()
    member = models.ForeignKey("shops.Member", models.PROTECT, null=True, blank=True, related_name="+")
    visit = models.ForeignKey(Visit, models.PROTECT, null=True, blank=True, related_name="remedies")
    by_whom_else = models.CharField(
        max_length=160, blank=True, help_text=_("Done by another shop: who says so.")
    )
    minutes = models.PositiveSmallIntegerField(null=True, blank=True)
    cut = models.ForeignKey(Cut, models.PROTECT, null=True, blank=True, related_name="+")
    new_piece = models.ForeignKey(FilmPiece, models.PROTECT, null=True, blank=True, related_name="+")
    cost = models.DecimalField(max_digits=10, decimal_places=2, null=True, blank=True)
    is_goodwill = models.BooleanField(default=False)
    post_heat_c = degrees()
    post_heat_c_basis = basis_field()
    passes = models.PositiveSmallIntegerField(null=True, blank=True)
    passes_basis = basis_field()
    note = models.TextField(blank=True)

    class Meta(PhoneMade.Meta):
        ordering = ["done_at", "pk"]
        constraints = [
            *PhoneMade.Meta.constraints,
            value_has_basis("remedy", "post_heat_c"),
            value_has_basis("remedy", "passes"),
        ]


class CorrectiveActionState(models.TextChoices):
    SET = "set", _("set")
    IN_USE = "in_use", _("in use")
    CHECKED = "checked", _("effect looked at")
    CLOSED = "closed", _("closed")
    DROPPED = "dropped", _("no action, with a reason")


class CorrectiveAction(ShopOwned):
    """A change of how work is done, with the point from which it counts and a look at its effect."""

    State = CorrectiveActionState

    number = models.CharField(max_length=24)
    text = models.TextField()
    owner = models.ForeignKey("shops.Member", models.PROTECT, related_name="+")
    due_on = models.DateField(null=True, blank=True)
    effective_from = models.DateField(null=True, blank=True)
    method_version = models.ForeignKey(
        "jobs.MethodVersion", models.PROTECT, null=True, blank=True, related_name="+"
    )
    state = models.CharField(max_length=7, choices=State.choices, default=State.SET)
    effect_words = models.TextField(blank=True)
    effect_figures = models.JSONField(default=dict, blank=True)
    effect_checked_at = models.DateTimeField(null=True, blank=True)
    effect_checked_by = models.ForeignKey(
        "shops.Member", models.PROTECT, null=True, blank=True, related_name="+"
    )
    set_at = models.DateTimeField()
    closed_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-set_at"]
        indexes = [models.Index(fields=["shop", "state", "due_on"], name="action_by_state")]
        constraints = [
            models.UniqueConstraint(fields=["shop", "number"], name="action_number_once"),
            one_of("corrective_action", "state", CorrectiveActionState),
            models.CheckConstraint(
                condition=~Q(state="closed") | (Q(effect_checked_at__isnull=False) & ~Q(effect_words="")),
                name="action_closed_after_effect",
            ),
        ]


class ActionDefect(ShopOwned):
    action = models.ForeignKey(CorrectiveAction, models.PROTECT, related_name="defects")
    defect = models.ForeignKey(Defect, models.PROTECT, related_name="actions")

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["shop", "action", "defect"], name="action_defect_once")
        ]


class LifeEnded(models.TextChoices):
    OPEN = "open", _("still watched")
    FAILED = "failed", _("found failed")
    OTHER = "other", _("ended otherwise")


class Life(ShopOwned):
    """Derived: how long a place held, from being finished or last put right. Rebuilt by `rebuild_lives`.

    Days count from the day its panel was finished (day 0) or the remedy was done. `clean_day` and
    `failed_day` are as the planned checks saw it; `all_*` as every visit did. No `clean_day`: never clean.
    """

    Ended = LifeEnded

    job = models.ForeignKey(Job, models.PROTECT, related_name="lives")
    place = models.ForeignKey(Place, models.PROTECT, related_name="lives")
    number = models.PositiveSmallIntegerField(default=1)
    family = models.CharField(max_length=24, blank=True)
    starts_on = models.DateField()
    entry_day = models.PositiveIntegerField(default=0)
    clean_day = models.PositiveIntegerField(null=True, blank=True)
    failed_day = models.PositiveIntegerField(null=True, blank=True)
    all_clean_day = models.PositiveIntegerField(null=True, blank=True)
    all_failed_day = models.PositiveIntegerField(null=True, blank=True)
    ended = models.CharField(max_length=6, choices=Ended.choices, default=Ended.OPEN)
    ended_day = models.PositiveIntegerField(null=True, blank=True)
    ended_why = models.CharField(max_length=24, blank=True)
    defect = models.ForeignKey(Defect, models.PROTECT, null=True, blank=True, related_name="+")

    class Meta:
        ordering = ["place", "number"]
        indexes = [
            models.Index(fields=["shop", "family", "starts_on"], name="life_by_family"),
            models.Index(fields=["shop", "job"], name="life_of_job"),
        ]
        constraints = [
            models.UniqueConstraint(fields=["shop", "place", "number"], name="life_once"),
            one_of("life", "ended", LifeEnded),
        ]


class LiftLikelihood(ShopOwned):
    """How likely a place is to lift, with the reason in words; worked out by the review, used in the bay."""

    place = models.OneToOneField(Place, models.PROTECT, related_name="likelihood")
    likelihood = models.FloatField(null=True, blank=True)
    rank = models.PositiveSmallIntegerField(default=0)
    reason = models.CharField(max_length=160, blank=True)
    worked_out_at = models.DateTimeField()

    class Meta:
        indexes = [models.Index(fields=["shop", "worked_out_at"], name="likelihood_age")]
