from django.db import models

from shopwarranty.shops.rows import ShopOwned, one_of
from shopwarranty.shops.triggers import Freeze


class KeptLives(ShopOwned):
    """Derived: the shop's lives as the review reads them, at one state of the record. The columns stand in
    `KeptBlock` rows, everything that names them in `head`. Rebuilt by `rebuild_lives`."""

    version = models.CharField(max_length=240)
    form = models.PositiveSmallIntegerField()
    lives = models.PositiveIntegerField()
    head = models.JSONField()
    packed_at = models.DateTimeField()
    took_s = models.FloatField(default=0)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["shop"], name="kept_lives_once")]


class KeptBlock(ShopOwned):
    kept = models.ForeignKey(KeptLives, models.CASCADE, related_name="blocks")
    number = models.PositiveIntegerField()
    packed = models.BinaryField()

    class Meta:
        ordering = ["number"]
        constraints = [models.UniqueConstraint(fields=["shop", "kept", "number"], name="kept_block_once")]


class FixedPart(models.TextChoices):
    ENDS = "ends"
    SURFACE = "surface"


class FixedReview(ShopOwned):
    """One review of everything on record, made once a month or because somebody asked; never changed.

    Only it makes claims: `claims` are the comparisons that held in its family, `figures` all it said. Between
    two of them figures move and a claim may fall, but none is added however often somebody looks.
    """

    Part = FixedPart
    freeze = Freeze()

    family = models.CharField(max_length=24, blank=True)
    part = models.CharField(max_length=7, choices=FixedPart.choices)
    on = models.DateField()
    made_at = models.DateTimeField()
    asked_for = models.BooleanField(default=False)
    version = models.CharField(max_length=240)
    form = models.PositiveSmallIntegerField()
    lives = models.PositiveIntegerField()
    failures = models.PositiveIntegerField()
    claims = models.JSONField(default=list)
    alerts = models.JSONField(default=list)
    figures = models.JSONField()

    class Meta:
        ordering = ["-made_at", "-pk"]
        indexes = [models.Index(fields=["shop", "family", "part", "-made_at"], name="fixed_review_newest")]
        constraints = [one_of("fixed_review", "part", FixedPart)]


class CheckCosts(ShopOwned):
    """What the owner says a lift costs, caught while small or grown, and a minute of a check, in the shop's
    currency; and for how many days a lift stays small. A shop without a row has said nothing."""

    caught_early = models.DecimalField(max_digits=9, decimal_places=2)
    caught_late = models.DecimalField(max_digits=9, decimal_places=2)
    minute = models.DecimalField(max_digits=7, decimal_places=2)
    grows_after = models.PositiveSmallIntegerField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["shop"], name="check_costs_once"),
            models.CheckConstraint(
                condition=models.Q(
                    caught_early__gte=0,
                    caught_late__gte=models.F("caught_early"),
                    minute__gte=0,
                    grows_after__range=(1, 365),
                ),
                name="check_costs_possible",
            ),
        ]


class ClaimsOnRecord(ShopOwned):
    """From which day on every claim is on record, as the owner says: those of imported jobs may have been
    kept elsewhere. Without a row they count from the day their job was imported."""

    since = models.DateField()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["shop"], name="claims_on_record_once")]
