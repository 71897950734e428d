"""What keeps a holder's page private: codes sent once to a stored contact, and how often somebody asked."""

from django.db import models

from shopwarranty.jobs.models import Party, Vehicle
from shopwarranty.shops.rows import ShopOwned


class OneTimeCode(ShopOwned):
    """A code sent to whoever a certificate is made out to. Only a keyed hash of it is kept."""

    vehicle = models.ForeignKey(Vehicle, models.PROTECT, related_name="+")
    party = models.ForeignKey(Party, models.PROTECT, related_name="+")
    code_hash = models.CharField(max_length=64)
    made_at = models.DateTimeField()
    expires_at = models.DateTimeField()
    wrong = models.PositiveSmallIntegerField(default=0)
    used_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        indexes = [models.Index(fields=["shop", "vehicle", "party", "-made_at"], name="one_time_code_last")]


class AskedOften(models.Model):
    """How often the same was asked within one hour; swept after two days. `who` is a keyed hash."""

    who = models.CharField(max_length=64)
    hour = models.DateTimeField(db_index=True)
    times = models.PositiveIntegerField(default=0)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["who", "hour"], name="asked_often_once")]
