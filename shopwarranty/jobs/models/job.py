from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from shopwarranty.shops.rows import (
    PhoneMade,
    basis_field,
    degrees,
    one_of,
    typed_field,
    value_has_basis,
)
from shopwarranty.shops.scope import ShopManager, ShopQuerySet

from .vehicles import Holding, Plate, Vehicle

YES_NO = ("decontaminated",)
NUMBERS = ("acclimatised_h", "recheck_min", "dwell_h")
WORDS = ("squeegee",)


def yes_no() -> models.BooleanField:  # type: ignore[type-arg]
    return models.BooleanField(null=True, blank=True)


def word() -> models.CharField:  # type: ignore[type-arg]
    return models.CharField(max_length=24, blank=True)


def number() -> models.FloatField:  # type: ignore[type-arg]
    return models.FloatField(null=True, blank=True)


class JobRows(ShopQuerySet["Job"]):
    def still_open(self) -> "JobRows":
        return self.filter(state=Job.State.OPEN)

    def with_vehicle(self) -> "JobRows":
        """For lists: vehicle, its present plate and holder, in one query."""
        plate = Plate.objects.filter(vehicle=models.OuterRef("vehicle"), until__isnull=True).order_by(
            "-since", "-pk"
        )
        held = Holding.objects.filter(vehicle=models.OuterRef("vehicle"), until__isnull=True, role="holder")
        holder = held.order_by("-since", "-pk")
        return self.select_related("vehicle", "method_version__method").annotate(
            plate_now=models.Subquery(plate.values("text")[:1]),
            holder_now=models.Subquery(holder.values("party__name")[:1]),
        )


class JobState(models.TextChoices):
    OPEN = "open", _("open")
    HANDED_OVER = "handed_over", _("handed over")
    CLOSED = "closed", _("closed")


class JobKind(models.TextChoices):
    CUSTOMER = "customer", _("customer's vehicle")
    OWN = "own", _("our own vehicle")
    TEST_PANEL = "test_panel", _("test panel")


class Job(PhoneMade):
    """One visit in which film was put on one vehicle.

    The technique fields are those of `trade.technique` at job level; an empty value means "not recorded".
    """

    State = JobState

    Kind = JobKind

    ref = models.CharField(max_length=40)
    vehicle = models.ForeignKey(Vehicle, models.PROTECT, related_name="jobs")
    kind = models.CharField(max_length=10, choices=Kind.choices, default=Kind.CUSTOMER)
    method_version = models.ForeignKey(
        "jobs.MethodVersion", models.PROTECT, null=True, blank=True, related_name="jobs"
    )
    no_method_reason = models.CharField(max_length=160, blank=True)
    state = models.CharField(max_length=11, choices=State.choices, default=State.OPEN)
    bay = models.ForeignKey("shops.Bay", models.PROTECT, null=True, blank=True, related_name="+")
    planned_handover_on = models.DateField(null=True, blank=True)
    ready_at = models.DateTimeField(null=True, blank=True)
    handed_over_at = models.DateTimeField(null=True, blank=True)
    handed_over_on = models.DateField(null=True, blank=True, help_text=_("Day in the shop's zone."))
    handed_over_by = models.ForeignKey(
        "shops.Member", models.PROTECT, null=True, blank=True, related_name="+"
    )
    quoted_months = models.PositiveSmallIntegerField(null=True, blank=True)
    decontaminated = yes_no()
    decontaminated_basis = basis_field()
    acclimatised_h = number()
    acclimatised_h_basis = basis_field()
    squeegee = word()
    squeegee_basis = basis_field()
    recheck_min = number()
    recheck_min_basis = basis_field()
    dwell_h = number()
    dwell_h_basis = basis_field()
    confirmed_at = models.DateTimeField(null=True, blank=True)
    confirmed_by = models.ForeignKey("shops.Member", models.PROTECT, null=True, blank=True, related_name="+")
    makers_procedure = models.CharField(max_length=9, blank=True)
    sensors_clear = models.CharField(max_length=9, blank=True)
    blades_returned = models.CharField(max_length=9, blank=True)
    note = models.TextField(blank=True)
    imported_at = models.DateTimeField(null=True, blank=True)
    started_at = models.DateTimeField()
    entered_at = models.DateTimeField()

    objects = ShopManager.from_queryset(JobRows)()  # type: ignore[misc]

    class Meta(PhoneMade.Meta):
        ordering = ["-started_at", "-pk"]
        indexes = [
            models.Index(fields=["shop", "state", "-started_at"], name="job_by_state"),
            models.Index(fields=["shop", "-handed_over_on"], name="job_by_handover"),
        ]
        constraints = [
            *PhoneMade.Meta.constraints,
            models.UniqueConstraint(fields=["shop", "ref"], name="job_ref_once"),
            one_of("job", "state", JobState),
            one_of("job", "kind", JobKind),
            *(value_has_basis("job", field) for field in (*YES_NO, *NUMBERS)),
            *(value_has_basis("job", field, text=True) for field in WORDS),
            models.CheckConstraint(
                condition=Q(state="open", handed_over_at__isnull=True, handed_over_on__isnull=True)
                | (~Q(state="open") & Q(handed_over_at__isnull=False, handed_over_on__isnull=False)),
                name="job_handover_has_moment",
            ),
        ]

    def __str__(self) -> str:
        return self.ref


class JobSession(PhoneMade):
    job = models.ForeignKey(Job, models.PROTECT, related_name="sessions")
    member = models.ForeignKey("shops.Member", models.PROTECT, null=True, blank=True, related_name="+")
    started_at = models.DateTimeField()
    stopped_at = models.DateTimeField(null=True, blank=True)

    class Meta(PhoneMade.Meta):
        ordering = ["started_at"]


class Reading(PhoneMade):
    """Air, surface and humidity at one moment. A panel uses the nearest reading before it was finished."""

    job = models.ForeignKey(Job, models.PROTECT, related_name="readings")
    panel_work = models.ForeignKey(
        "jobs.PanelWork", models.PROTECT, null=True, blank=True, related_name="readings"
    )
    at = models.DateTimeField()
    air_c = degrees()
    air_c_basis = basis_field()
    air_typed = typed_field()
    surface_c = degrees()
    surface_c_basis = basis_field()
    surface_typed = typed_field()
    humidity = models.FloatField(null=True, blank=True)
    humidity_basis = basis_field()
    instrument = models.CharField(max_length=60, blank=True)
    member = models.ForeignKey("shops.Member", models.PROTECT, null=True, blank=True, related_name="+")
    entered_at = models.DateTimeField()

    class Meta(PhoneMade.Meta):
        ordering = ["at", "pk"]
        indexes = [models.Index(fields=["shop", "job", "at"], name="reading_of_job")]
        constraints = [
            *PhoneMade.Meta.constraints,
            *(value_has_basis("reading", field) for field in ("air_c", "surface_c", "humidity")),
            models.CheckConstraint(
                condition=Q(humidity__isnull=True) | Q(humidity__gte=0, humidity__lte=100),
                name="reading_humidity_0_to_100",
            ),
        ]
