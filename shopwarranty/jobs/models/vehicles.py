import uuid

from django.db import models
from django.utils.translation import gettext_lazy as _

from shopwarranty.shops.rows import ShopOwned, one_of
from shopwarranty.shops.scope import ShopManager, ShopQuerySet


class PartyKind(models.TextChoices):
    PERSON = "person", _("person")
    FIRM = "firm", _("firm")


class Party(ShopOwned):
    """A person or firm: whom a promise is made to, or who is called. As little as the job needs."""

    Kind = PartyKind

    kind = models.CharField(max_length=6, choices=Kind.choices, default=Kind.PERSON)
    name = models.CharField(max_length=160)
    email = models.EmailField(blank=True)
    telephone = models.CharField(max_length=40, blank=True)
    address = models.TextField(blank=True)
    language = models.CharField(max_length=8, blank=True)
    is_consumer = models.BooleanField(default=True)
    reminders_stopped_at = models.DateTimeField(null=True, blank=True)
    marketing_agreed_at = models.DateTimeField(null=True, blank=True)
    email_refused_at = models.DateTimeField(null=True, blank=True)
    restricted_at = models.DateTimeField(null=True, blank=True)
    represented_by = models.ForeignKey("self", models.PROTECT, null=True, blank=True, related_name="+")
    represented_from = models.DateField(null=True, blank=True)
    note = models.TextField(blank=True)

    class Meta:
        verbose_name_plural = "parties"
        ordering = ["name"]
        indexes = [
            models.Index(fields=["shop", "name"], name="party_by_name"),
            models.Index(fields=["shop", "email"], name="party_by_email"),
        ]
        constraints = [one_of("party", "kind", PartyKind)]

    def __str__(self) -> str:
        return self.name


class VehicleRows(ShopQuerySet["Vehicle"]):
    def with_plate_and_holder(self) -> "VehicleRows":
        """Adds the present plate and holder's name; one query however many vehicles."""
        plate = Plate.objects.filter(vehicle=models.OuterRef("pk"), until__isnull=True).order_by(
            "-since", "-pk"
        )
        holder = Holding.objects.filter(
            vehicle=models.OuterRef("pk"), until__isnull=True, role=Holding.Role.HOLDER
        ).order_by("-since", "-pk")
        return self.annotate(
            plate_now=models.Subquery(plate.values("text")[:1]),
            holder_now=models.Subquery(holder.values("party__name")[:1]),
        )


class VehicleVinKind(models.TextChoices):
    VIN = "vin", _("VIN, 17 characters")
    CHASSIS = "chassis", _("chassis number")
    TO_READ = "to_read", _("to be read on arrival")
    NONE = "none", _("has none")


class VehicleOwned(models.TextChoices):
    CUSTOMER = "customer", _("a customer's vehicle")
    SHOP = "shop", _("our own vehicle")
    PANEL = "panel", _("a loose test panel")


class Vehicle(ShopOwned):
    """A vehicle, or a loose test panel. The shop's own ones and test panels have no consumer holder."""

    VinKind = VehicleVinKind

    Owned = VehicleOwned

    owned = models.CharField(max_length=8, choices=Owned.choices, default=Owned.CUSTOMER)
    make = models.CharField(max_length=60, blank=True)
    model = models.CharField(max_length=60, blank=True)
    year = models.PositiveSmallIntegerField(null=True, blank=True)
    colour = models.CharField(max_length=60, blank=True)
    body_style = models.CharField(max_length=12)
    use = models.CharField(max_length=8, blank=True)
    vin = models.CharField(max_length=40, blank=True)
    vin_kind = models.CharField(max_length=7, choices=VinKind.choices, default=VinKind.TO_READ)
    vin_reason = models.CharField(max_length=160, blank=True)
    merged_into = models.ForeignKey("self", models.PROTECT, null=True, blank=True, related_name="merged_from")
    note = models.TextField(blank=True)

    objects = ShopManager.from_queryset(VehicleRows)()  # type: ignore[misc]

    class Meta:
        ordering = ["-pk"]
        indexes = [
            models.Index(fields=["shop", "vin"], name="vehicle_by_vin"),
            models.Index(fields=["shop", "make", "model"], name="vehicle_by_model"),
        ]
        constraints = [
            one_of("vehicle", "owned", VehicleOwned),
            one_of("vehicle", "vin_kind", VehicleVinKind),
            models.UniqueConstraint(
                fields=["shop", "vin"],
                condition=models.Q(vin_kind="vin", merged_into__isnull=True),
                name="vehicle_vin_once",
                violation_error_message=_("A vehicle with this VIN is already recorded."),
            ),
        ]

    def __str__(self) -> str:
        return " ".join(part for part in (self.make, self.model) if part) or self.body_style


class Plate(ShopOwned):
    """A plate is dated: the same one may later sit on another vehicle."""

    vehicle = models.ForeignKey(Vehicle, models.PROTECT, related_name="plates")
    text = models.CharField(max_length=20)
    searched = models.CharField(max_length=20, editable=False)
    since = models.DateField()
    until = models.DateField(null=True, blank=True)

    class Meta:
        ordering = ["-since", "-pk"]
        indexes = [models.Index(fields=["shop", "searched"], name="plate_by_text")]

    def __str__(self) -> str:
        return self.text


class HoldingRole(models.TextChoices):
    OWNER = "owner", _("owner")
    HOLDER = "holder", _("warranty holder")
    CONTACT = "contact", _("contact")
    PAYER = "payer", _("payer")


class Holding(ShopOwned):
    """Who stands in which relation to the vehicle, from when until when."""

    Role = HoldingRole

    vehicle = models.ForeignKey(Vehicle, models.PROTECT, related_name="holdings")
    party = models.ForeignKey(Party, models.PROTECT, related_name="holdings")
    role = models.CharField(max_length=7, choices=Role.choices)
    since = models.DateField()
    until = models.DateField(null=True, blank=True)

    class Meta:
        ordering = ["-since", "-pk"]
        indexes = [models.Index(fields=["shop", "vehicle", "role"], name="holding_of_vehicle")]
        constraints = [
            one_of("holding", "role", HoldingRole),
            models.UniqueConstraint(
                fields=["shop", "vehicle", "role", "party"],
                condition=models.Q(until__isnull=True),
                name="holding_once_at_a_time",
            ),
        ]


class HolderLink(ShopOwned):
    """A private address for the holder of a vehicle. Only the hash of its token is kept."""

    uid = models.UUIDField(default=uuid.uuid4, editable=False)
    vehicle = models.ForeignKey(Vehicle, models.PROTECT, related_name="+")
    party = models.ForeignKey(Party, models.PROTECT, related_name="+")
    token_hash = models.CharField(max_length=64, unique=True)
    scope = models.CharField(max_length=24)
    made_at = models.DateTimeField()
    expires_at = models.DateTimeField()
    revoked_at = models.DateTimeField(null=True, blank=True)
    last_used_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        indexes = [models.Index(fields=["shop", "vehicle"], name="holder_link_of_vehicle")]
