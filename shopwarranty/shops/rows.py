"""What every row of a shop has in common."""

import uuid
from typing import Any

from django.db import models

from . import scope


class ShopOwned(models.Model):
    """A row of one shop. Indexes lead with the shop, so the foreign key carries none of its own."""

    shop = models.ForeignKey("shops.Shop", models.PROTECT, related_name="+", editable=False, db_index=False)

    objects = scope.ShopManager()

    class Meta:
        abstract = True

    def save(self, *args: Any, **kwargs: Any) -> None:
        scope.claim_row(self)
        super().save(*args, **kwargs)


class PhoneMade(ShopOwned):
    """A row that a phone may create while offline: its id is made there, so that sending twice stores once.

    `version` grows with every save of an editable row; a stale save shows both values.
    """

    uid = models.UUIDField(default=uuid.uuid4, editable=False)
    version = models.PositiveIntegerField(default=1, editable=False)

    class Meta:
        abstract = True
        constraints = [
            models.UniqueConstraint(fields=["shop", "uid"], name="%(app_label)s_%(class)s_one_uid")
        ]


def one_of(table: str, field: str, choices: type[models.TextChoices]) -> models.CheckConstraint:
    """The database, too, knows which states there are."""
    return models.CheckConstraint(
        condition=models.Q(**{f"{field}__in": choices.values}), name=f"{table}_{field}_known"
    )


def value_has_basis(table: str, field: str, *, text: bool = False) -> models.CheckConstraint:
    """A recorded value says how it is known; an unrecorded one claims nothing."""
    missing = models.Q(**{field: ""}) if text else models.Q(**{f"{field}__isnull": True})
    no_basis = models.Q(**{f"{field}_basis": ""})
    return models.CheckConstraint(
        condition=(missing & no_basis) | (~missing & ~no_basis), name=f"{table}_{field}_basis"
    )


class Basis(models.TextChoices):
    """How a value is known. Empty: not recorded."""

    STATED = "stated"
    MEASURED = "measured"
    BY_METHOD = "by_method"
    IMPORTED = "imported"


def basis_field() -> models.CharField:  # type: ignore[type-arg]
    return models.CharField(max_length=9, choices=Basis.choices, blank=True, default="")


def typed_field() -> models.CharField:  # type: ignore[type-arg]
    """The value and unit as somebody typed them, e.g. "68 F"."""
    return models.CharField(max_length=24, blank=True, default="")


def degrees(**more: Any) -> models.FloatField:  # type: ignore[type-arg]
    return models.FloatField(null=True, blank=True, **more)


def millimetres(**more: Any) -> models.FloatField:  # type: ignore[type-arg]
    return models.FloatField(null=True, blank=True, **more)
