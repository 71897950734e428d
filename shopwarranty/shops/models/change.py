from django.db import models

from ..rows import ShopOwned
from ..triggers import Freeze


class Change(ShopOwned):
    """Append-only history: who, when, what before and after, why."""

    freeze = Freeze(personal=("before", "after", "why", "who"))

    at = models.DateTimeField()
    member = models.ForeignKey("shops.Member", models.PROTECT, null=True, related_name="+")
    device = models.ForeignKey("shops.BayDevice", models.PROTECT, null=True, related_name="+")
    who = models.CharField(max_length=120)
    act = models.CharField(max_length=60)
    table = models.CharField(max_length=60)
    row = models.BigIntegerField()
    before = models.JSONField(default=dict)
    after = models.JSONField(default=dict)
    why = models.TextField(blank=True)

    class Meta:
        ordering = ["-at", "-pk"]
        indexes = [
            models.Index(fields=["shop", "table", "row"], name="change_of_row"),
            models.Index(fields=["shop", "-at"], name="change_latest"),
        ]


class Erasing(ShopOwned):
    """There only while the personal columns of frozen rows are emptied, within that one transaction."""

    at = models.DateTimeField()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["shop"], name="erasing_once")]


class Counter(ShopOwned):
    """The last number given out in a series. Numbers are never reused; gaps are allowed."""

    series = models.CharField(max_length=40)
    last = models.PositiveIntegerField(default=0)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["shop", "series"], name="counter_one_series")]
