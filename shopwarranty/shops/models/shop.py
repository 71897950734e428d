from zoneinfo import ZoneInfo

from django.core.validators import MaxValueValidator, MinValueValidator, RegexValidator
from django.db import models
from django.utils.translation import gettext_lazy as _

from ..rows import ShopOwned


class Shop(models.Model):
    """One business. Its slug is in every address of its pages."""

    class Units(models.TextChoices):
        METRIC = "metric", _("metric (C, mm)")
        US = "us", _("US (F, inches)")

    class LegalProfile(models.TextChoices):
        US = "us", _("United States")
        EU = "eu", _("European Union")
        UK = "uk", _("United Kingdom")
        AU = "au", _("Australia")
        OTHER = "other", _("Other")

    slug = models.SlugField(max_length=40, unique=True)
    name = models.CharField(max_length=120)
    legal_name = models.CharField(max_length=160, blank=True)
    street = models.CharField(max_length=160, blank=True)
    town = models.CharField(max_length=120, blank=True)
    country = models.CharField(max_length=2, blank=True)
    region = models.CharField(max_length=20, blank=True)
    telephone = models.CharField(max_length=40, blank=True)
    email = models.EmailField(blank=True)
    public_url = models.URLField(
        blank=True, help_text=_("Where customers reach this installation, with https.")
    )
    time_zone = models.CharField(max_length=60, default="UTC")
    units = models.CharField(max_length=6, choices=Units.choices, default=Units.METRIC)
    currency = models.CharField(max_length=3, default="EUR")
    language = models.CharField(max_length=8, default="en")
    legal_profile = models.CharField(max_length=5, choices=LegalProfile.choices, default=LegalProfile.OTHER)
    certificate_prefix = models.CharField(
        max_length=4,
        default="SW",
        validators=[RegexValidator(r"^[A-Z]{2,4}$", _("Two to four letters A to Z."))],
    )
    number_series = models.CharField(max_length=1, blank=True, help_text=_("New letter after a restore."))
    failure_line = models.PositiveSmallIntegerField(
        default=2, validators=[MinValueValidator(1), MaxValueValidator(4)]
    )
    check_minutes = models.PositiveSmallIntegerField(default=45)
    lead_hours = models.PositiveSmallIntegerField(default=2)
    ahead_days = models.PositiveSmallIntegerField(default=60)
    cutting_allowance_mm = models.FloatField(default=38.0)
    dew_point_margin_c = models.FloatField(default=3.0)
    installer_figures = models.BooleanField(default=False)
    logo_sha256 = models.CharField(max_length=64, blank=True)
    is_demo = models.BooleanField(default=False)
    created_at = models.DateTimeField()

    class Meta:
        ordering = ["name"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(failure_line__gte=1, failure_line__lte=4), name="shop_failure_line_1_to_4"
            )
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def zone(self) -> ZoneInfo:
        return ZoneInfo(self.time_zone)

    @property
    def address(self) -> str:
        return ", ".join(part for part in (self.street, self.town, self.country) if part)


class Bay(ShopOwned):
    """One place to work or to look at a vehicle. Each active bay takes one check at a time."""

    name = models.CharField(max_length=60)
    position = models.PositiveSmallIntegerField(default=1)
    takes_checks = models.BooleanField(default=True)
    retired_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["position", "pk"]
        constraints = [models.UniqueConstraint(fields=["shop", "name"], name="bay_one_name")]

    def __str__(self) -> str:
        return self.name


class OpeningHours(ShopOwned):
    """One stretch of opening on a weekday (0 = Monday); a lunch break makes two."""

    weekday = models.PositiveSmallIntegerField()
    opens = models.TimeField()
    closes = models.TimeField()

    class Meta:
        ordering = ["weekday", "opens"]
        constraints = [
            models.UniqueConstraint(fields=["shop", "weekday", "opens"], name="hours_one_start"),
            models.CheckConstraint(condition=models.Q(weekday__lte=6), name="hours_weekday_0_to_6"),
            models.CheckConstraint(
                condition=models.Q(opens__lt=models.F("closes")), name="hours_open_before_close"
            ),
        ]


class ClosedDay(ShopOwned):
    on = models.DateField()
    name = models.CharField(max_length=120, blank=True)

    class Meta:
        ordering = ["on"]
        constraints = [models.UniqueConstraint(fields=["shop", "on"], name="closed_day_once")]
