from django.db import models


class Asked(models.Model):
    """How often somebody asked for the same thing within one stretch of time. `who` is a keyed hash."""

    who = models.CharField(max_length=64)
    since = models.DateTimeField(db_index=True)
    times = models.PositiveIntegerField(default=0)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["who", "since"], name="asked_once_a_stretch")]
