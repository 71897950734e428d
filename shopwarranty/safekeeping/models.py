"""How long a shop keeps people's data, and who asked to be erased."""

from django.db import models
from django.utils.translation import gettext_lazy as _

from shopwarranty.jobs.models import Party
from shopwarranty.shops.rows import ShopOwned


class Retention(ShopOwned):
    """How long after the last promise a person's data are kept. One row a shop, made by saving it."""

    years_after = models.PositiveSmallIntegerField()
    from_year_end = models.BooleanField(default=False)
    erases_by_itself = models.BooleanField(default=False)
    message_months = models.PositiveSmallIntegerField(null=True, blank=True)
    version = models.PositiveIntegerField(default=1, editable=False)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["shop"], name="retention_once")]


class Erasure(ShopOwned):
    """Somebody asked to be erased, or their time is over. `erase_on`: not before; empty: no day known yet."""

    party = models.ForeignKey(Party, models.PROTECT, related_name="erasures")
    asked_on = models.DateField(null=True, blank=True, help_text=_("Empty: nobody asked, the time was over."))
    asked_how = models.CharField(max_length=160, blank=True)
    why_kept = models.JSONField(default=list, blank=True)
    erase_on = models.DateField(null=True, blank=True)
    erased_at = models.DateTimeField(null=True, blank=True)
    files_left = models.JSONField(
        default=list, blank=True, help_text=_("Stored files that are not thrown away yet, by hash.")
    )
    member = models.ForeignKey("shops.Member", models.PROTECT, null=True, blank=True, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ["erase_on", "pk"]
        indexes = [
            models.Index(
                fields=["shop", "erase_on"],
                condition=models.Q(erased_at__isnull=True),
                name="erasure_to_do",
            ),
        ]
        constraints = [models.UniqueConstraint(fields=["shop", "party"], name="erasure_once")]
