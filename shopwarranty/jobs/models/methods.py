from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from shopwarranty.shops.rows import ShopOwned, basis_field, one_of
from shopwarranty.shops.triggers import Freeze


class Method(ShopOwned):
    """The shop's written usual way. A job follows one version of it; only what differed is recorded."""

    name = models.CharField(max_length=80)
    retired_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["name"]
        constraints = [models.UniqueConstraint(fields=["shop", "name"], name="method_once")]

    def __str__(self) -> str:
        return self.name


class MethodVersion(ShopOwned):
    """`values` maps "job", "panel", "edge", "recess", "seam", "field" (and "panels" for exceptions by panel)
    to technique field -> value, checked by `trade.method`. Never changed: a change is a new version."""

    freeze = Freeze()

    method = models.ForeignKey(Method, models.PROTECT, related_name="versions")
    number = models.PositiveSmallIntegerField()
    values = models.JSONField(default=dict)
    note = models.TextField(blank=True)
    written_by = models.ForeignKey("shops.Member", models.PROTECT, null=True, related_name="+")
    valid_from = models.DateTimeField()

    class Meta:
        ordering = ["method", "-number"]
        constraints = [
            models.UniqueConstraint(fields=["shop", "method", "number"], name="method_version_once")
        ]

    def __str__(self) -> str:
        return f"{self.method.name} {self.number}"


class ShopFieldLevel(models.TextChoices):
    JOB = "job", _("job")
    PANEL = "panel", _("panel")
    PLACE = "place", _("place")


class ShopFieldKind(models.TextChoices):
    YES_NO = "yes_no", _("yes or no")
    CHOICE = "choice", _("one of a list")
    NUMBER = "number", _("number")


class ShopField(ShopOwned):
    """A technique field that a shop added."""

    Level = ShopFieldLevel

    Kind = ShopFieldKind

    key = models.SlugField(max_length=40)
    name = models.CharField(max_length=80)
    level = models.CharField(max_length=5, choices=Level.choices)
    kind = models.CharField(max_length=6, choices=Kind.choices)
    unit = models.CharField(max_length=12, blank=True)
    choices = models.JSONField(default=list, blank=True)
    retired_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["name"]
        constraints = [
            models.UniqueConstraint(fields=["shop", "key"], name="shop_field_once"),
            one_of("shop_field", "level", ShopFieldLevel),
            one_of("shop_field", "kind", ShopFieldKind),
        ]

    def __str__(self) -> str:
        return self.name


class FieldValue(ShopOwned):
    """The value of a shop's own field on exactly one job, panel or place."""

    field = models.ForeignKey(ShopField, models.PROTECT, related_name="+")
    job = models.ForeignKey("jobs.Job", models.PROTECT, null=True, blank=True, related_name="field_values")
    panel_work = models.ForeignKey(
        "jobs.PanelWork", models.PROTECT, null=True, blank=True, related_name="field_values"
    )
    place = models.ForeignKey(
        "jobs.Place", models.PROTECT, null=True, blank=True, related_name="field_values"
    )
    value = models.CharField(max_length=80)
    basis = basis_field()

    class Meta:
        indexes = [models.Index(fields=["shop", "field"], name="field_value_of_field")]
        constraints = [
            models.CheckConstraint(
                condition=(
                    Q(job__isnull=False, panel_work__isnull=True, place__isnull=True)
                    | Q(job__isnull=True, panel_work__isnull=False, place__isnull=True)
                    | Q(job__isnull=True, panel_work__isnull=True, place__isnull=False)
                ),
                name="field_value_of_one_thing",
            ),
            models.CheckConstraint(condition=~Q(basis="") & ~Q(value=""), name="field_value_has_basis"),
            models.UniqueConstraint(
                fields=["shop", "field", "job"], condition=Q(job__isnull=False), name="field_value_once_job"
            ),
            models.UniqueConstraint(
                fields=["shop", "field", "panel_work"],
                condition=Q(panel_work__isnull=False),
                name="field_value_once_panel",
            ),
            models.UniqueConstraint(
                fields=["shop", "field", "place"],
                condition=Q(place__isnull=False),
                name="field_value_once_place",
            ),
        ]


class Deviation(ShopOwned):
    """What differed from the method, and why. The value itself stands on the job, panel or place."""

    job = models.ForeignKey("jobs.Job", models.PROTECT, related_name="deviations")
    panel_work = models.ForeignKey(
        "jobs.PanelWork", models.PROTECT, null=True, blank=True, related_name="deviations"
    )
    place = models.ForeignKey("jobs.Place", models.PROTECT, null=True, blank=True, related_name="deviations")
    field = models.CharField(max_length=40)
    usual = models.CharField(max_length=80, blank=True)
    actual = models.CharField(max_length=80, blank=True)
    reason = models.CharField(max_length=160, blank=True)
    member = models.ForeignKey("shops.Member", models.PROTECT, null=True, related_name="+")
    at = models.DateTimeField()
    undone_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["at", "pk"]
        indexes = [models.Index(fields=["shop", "job"], name="deviation_of_job")]
