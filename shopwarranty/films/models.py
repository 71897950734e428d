from datetime import UTC, datetime

from django.db import models
from django.db.models import F, OuterRef, Q, Subquery, Sum
from django.db.models.functions import Coalesce
from django.utils.translation import gettext_lazy as _

from shopwarranty.shops.rows import ShopOwned, degrees, one_of
from shopwarranty.shops.scope import ShopManager, ShopQuerySet

LONG_AGO = datetime(1970, 1, 1, tzinfo=UTC)


class FilmProduct(ShopOwned):
    """A film as its maker sells it. Renamed or discontinued ones keep their name on old jobs."""

    maker = models.CharField(max_length=80)
    maker_address = models.CharField(
        max_length=240, blank=True, help_text=_("Printed where the maker itself promises something.")
    )
    name = models.CharField(max_length=120)
    family = models.CharField(max_length=24)
    finish = models.CharField(max_length=40, blank=True)
    thickness_um = models.FloatField(null=True, blank=True)
    shelf_life_months = models.PositiveSmallIntegerField(null=True, blank=True)
    apply_min_c = degrees()
    apply_max_c = degrees()
    post_heat_min_c = degrees()
    post_heat_max_c = degrees()
    humidity_max = models.FloatField(null=True, blank=True)
    laid = models.CharField(max_length=8, blank=True)
    wash_after_hours = models.PositiveSmallIntegerField(null=True, blank=True)
    sold_from = models.DateField(null=True, blank=True)
    sold_to = models.DateField(null=True, blank=True)
    note = models.TextField(blank=True)

    class Meta:
        ordering = ["maker", "name"]
        constraints = [models.UniqueConstraint(fields=["shop", "maker", "name"], name="film_product_once")]

    def __str__(self) -> str:
        return f"{self.maker} {self.name}".strip()


class MakerTerms(ShopOwned):
    """A film maker's own warranty terms as a file, with the date they carry."""

    product = models.ForeignKey(FilmProduct, models.PROTECT, related_name="terms")
    title = models.CharField(max_length=160)
    dated = models.DateField()
    sha256 = models.CharField(max_length=64)
    file_name = models.CharField(max_length=160)
    months = models.PositiveSmallIntegerField(null=True, blank=True)
    report_days = models.PositiveSmallIntegerField(
        null=True, blank=True, help_text=_("Days from finding a defect to claiming it.")
    )
    answer_days = models.PositiveSmallIntegerField(
        null=True, blank=True, help_text=_("Days in which the maker answers.")
    )

    class Meta:
        ordering = ["-dated"]
        indexes = [models.Index(fields=["shop", "product", "dated"], name="maker_terms_by_date")]


class Lot(ShopOwned):
    """A maker's batch. A lot nobody can name is not a row: the film piece says unknown, and why."""

    product = models.ForeignKey(FilmProduct, models.PROTECT, related_name="lots")
    number = models.CharField(max_length=60)
    made_on = models.DateField(null=True, blank=True)
    quarantined_at = models.DateTimeField(null=True, blank=True)
    quarantine_reason = models.TextField(blank=True)
    quarantined_by = models.ForeignKey(
        "shops.Member", models.PROTECT, null=True, blank=True, related_name="+"
    )
    note = models.TextField(blank=True)

    class Meta:
        ordering = ["-pk"]
        constraints = [
            models.UniqueConstraint(fields=["shop", "product", "number"], name="lot_once"),
            models.CheckConstraint(
                condition=models.Q(quarantined_at__isnull=True) | ~models.Q(quarantine_reason=""),
                name="lot_quarantine_has_reason",
            ),
        ]

    def __str__(self) -> str:
        return self.number


class RollRows(ShopQuerySet["Roll"]):
    def with_left(self) -> "RollRows":
        """Adds `left_mm`: the last measurement (else the length) less cuts since; None when unknown."""
        measured = RollMeasurement.objects.filter(roll=OuterRef("pk")).order_by("-measured_at", "-pk")
        rows = self.annotate(
            counted_from=Coalesce(Subquery(measured.values("measured_at")[:1]), LONG_AGO),
            counted_mm=Coalesce(Subquery(measured.values("left_mm")[:1]), F("length_mm")),
        )
        since = Q(cuts__cut_at__gt=F("counted_from"))
        return rows.annotate(left_mm=F("counted_mm") - Coalesce(Sum("cuts__off_roll_mm", filter=since), 0.0))

    def in_stock(self) -> "RollRows":
        return self.filter(finished_on__isnull=True)


class Roll(ShopOwned):
    """One physical roll. What is left on it is worked out, never stored."""

    product = models.ForeignKey(FilmProduct, models.PROTECT, related_name="rolls")
    lot = models.ForeignKey(Lot, models.PROTECT, null=True, blank=True, related_name="rolls")
    lot_unknown_reason = models.CharField(max_length=160, blank=True)
    label = models.CharField(max_length=40)
    width_mm = models.FloatField(null=True, blank=True)
    length_mm = models.FloatField(null=True, blank=True)
    received_on = models.DateField(null=True, blank=True)
    opened_on = models.DateField(null=True, blank=True)
    finished_on = models.DateField(null=True, blank=True)
    stored_where = models.CharField(max_length=80, blank=True)
    note = models.TextField(blank=True)

    objects = ShopManager.from_queryset(RollRows)()  # type: ignore[misc]

    class Meta:
        ordering = ["-pk"]
        constraints = [
            models.UniqueConstraint(fields=["shop", "label"], name="roll_label_once"),
            models.CheckConstraint(
                condition=models.Q(lot__isnull=True) | models.Q(lot_unknown_reason=""),
                name="roll_lot_or_unknown",
            ),
        ]

    def __str__(self) -> str:
        return self.label


class CutKind(models.TextChoices):
    PIECE = "piece", _("piece for a panel")
    RECUT = "recut", _("cut again")
    WASTE = "waste", _("waste")
    OFFCUT = "offcut", _("off-cut kept")


class Cut(ShopOwned):
    """Film taken off a roll, or off an off-cut that was kept as stock."""

    Kind = CutKind

    roll = models.ForeignKey(Roll, models.PROTECT, null=True, blank=True, related_name="cuts")
    from_offcut = models.ForeignKey("self", models.PROTECT, null=True, blank=True, related_name="cut_from_it")
    kind = models.CharField(max_length=6, choices=Kind.choices)
    along_mm = models.FloatField(help_text=_("Length taken along the roll."))
    across_mm = models.FloatField(null=True, blank=True)
    off_roll_mm = models.FloatField(default=0, help_text=_("How much shorter the roll is afterwards."))
    long_side_across = models.BooleanField(null=True, blank=True)
    cut_at = models.DateTimeField()
    member = models.ForeignKey("shops.Member", models.PROTECT, null=True, blank=True, related_name="+")
    used_up_at = models.DateTimeField(null=True, blank=True)
    note = models.CharField(max_length=160, blank=True)

    class Meta:
        ordering = ["-cut_at", "-pk"]
        indexes = [models.Index(fields=["shop", "kind", "used_up_at"], name="cut_stock")]
        constraints = [one_of("cut", "kind", CutKind)]


class RollMeasurement(ShopOwned):
    """What was measured to be left on a roll; later cuts count from here."""

    roll = models.ForeignKey(Roll, models.PROTECT, related_name="measurements")
    left_mm = models.FloatField()
    measured_at = models.DateTimeField()
    member = models.ForeignKey("shops.Member", models.PROTECT, null=True, related_name="+")
    why = models.CharField(max_length=160)

    class Meta:
        ordering = ["-measured_at"]
        indexes = [models.Index(fields=["shop", "roll", "measured_at"], name="roll_measured")]
