"""How a shop offers its checks: days and hours beyond the usual week, what is written to holders."""

from datetime import time

from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from shopwarranty.shops.rows import ShopOwned, one_of


class WhenClosed(models.TextChoices):
    NEXT = "next", _("the next open day")
    PREVIOUS = "previous", _("the open day before")


class CheckRules(ShopOwned):
    """One row a shop; a shop without one goes by the defaults."""

    WhenClosed = WhenClosed

    when_closed = models.CharField(max_length=8, choices=WhenClosed.choices, default=WhenClosed.NEXT)
    people_at_once = models.PositiveSmallIntegerField(
        null=True, blank=True, help_text="fewer people than bays: so many checks at once at most"
    )
    holidays_country = models.CharField(max_length=2, blank=True)
    holidays_region = models.CharField(max_length=12, blank=True)
    send_from = models.TimeField(default=time(8))
    send_until = models.TimeField(default=time(20))
    send_weekdays = models.CharField(max_length=7, default="0123456", help_text="0 is Monday")
    send_on_closed_days = models.BooleanField(default=True)
    silent = models.JSONField(default=list, blank=True, help_text="kinds of messages that are off")
    offers_at_most = models.PositiveSmallIntegerField(default=3)
    text_without_mail = models.BooleanField(default=False)
    spot_photo = models.BooleanField(
        default=False, help_text="a second look at a place drawn at random comes with a photo"
    )

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["shop"], name="check_rules_once"),
            one_of("check_rules", "when_closed", WhenClosed),
            models.CheckConstraint(
                condition=Q(send_from__lt=F("send_until")), name="check_rules_send_from_before_until"
            ),
        ]


class OwnDay(ShopOwned):
    """A day with hours of its own, or (without any) a public holiday on which the shop opens as usual."""

    on = models.DateField()
    opens = models.TimeField(null=True, blank=True)
    closes = models.TimeField(null=True, blank=True)

    class Meta:
        ordering = ["on"]
        constraints = [
            models.UniqueConstraint(fields=["shop", "on"], name="own_day_once"),
            models.CheckConstraint(
                condition=Q(opens__isnull=True, closes__isnull=True) | Q(opens__lt=F("closes")),
                name="own_day_opens_before_it_closes",
            ),
        ]


class BayHours(ShopOwned):
    """When a bay takes checks (0 = Monday). A bay without any takes them whenever the shop is open."""

    bay = models.ForeignKey("shops.Bay", models.PROTECT, related_name="check_hours")
    weekday = models.PositiveSmallIntegerField()
    opens = models.TimeField()
    closes = models.TimeField()

    class Meta:
        ordering = ["weekday", "opens"]
        constraints = [
            models.UniqueConstraint(fields=["shop", "bay", "weekday", "opens"], name="bay_hours_one_start"),
            models.CheckConstraint(condition=Q(weekday__lte=6), name="bay_hours_weekday_0_to_6"),
            models.CheckConstraint(condition=Q(opens__lt=F("closes")), name="bay_hours_open_before_close"),
        ]


class MessageText(ShopOwned):
    """A shop's own words for one kind of message in one language. Without a row ours are used."""

    kind = models.CharField(max_length=12)
    language = models.CharField(max_length=8)
    subject = models.CharField(max_length=160)
    text = models.TextField()
    version = models.PositiveIntegerField(default=1)
    changed_at = models.DateTimeField()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["shop", "kind", "language"], name="message_text_once")]
