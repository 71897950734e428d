import re
from datetime import timedelta
from typing import TYPE_CHECKING

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from shopwarranty.shops.rows import ShopOwned, one_of
from shopwarranty.shops.scope import ShopManager, ShopQuerySet

if TYPE_CHECKING:
    from .due import When

ONE_TIME_CODE = "one-time-code:"
"""How the key of a message begins that carries a code."""
UNCERTAIN_AFTER = timedelta(minutes=15)
CODE = re.compile(r"\d(?:[ -]?\d){5}")


def masked(text: str) -> str:
    """Codes of six digits as dots."""
    return CODE.sub("••••••", text)


class MessageRows(ShopQuerySet["Message"]):
    def due(self, now: "When") -> "MessageRows":
        return self.filter(state=Message.State.WAITING, not_before__lte=now)

    def lost(self, now: "When") -> "MessageRows":
        """Whoever took these up died over them."""
        return self.filter(state=Message.State.SENDING, claimed_at__lt=now - UNCERTAIN_AFTER)

    def uncertain(self) -> "MessageRows":
        """Taken up for sending and never heard of again, or parked: staff look at these."""
        return self.filter(state__in=[Message.State.SENDING, Message.State.PARKED, Message.State.FAILED])


class MessageState(models.TextChoices):
    WAITING = "waiting", _("waiting")
    SENDING = "sending", _("being sent")
    SENT = "sent", _("sent")
    PARKED = "parked", _("not known whether it arrived")
    FAILED = "failed", _("refused")
    DROPPED = "dropped", _("no longer needed")


class Message(ShopOwned):
    """One line of the outbox. Its key is made from facts, so that nobody is told the same thing twice."""

    State = MessageState

    key = models.CharField(max_length=120)
    about = models.CharField(max_length=60, blank=True)
    channel = models.CharField(max_length=12, default="mail")
    to = models.CharField(max_length=254)
    to_name = models.CharField(max_length=160, blank=True)
    subject = models.CharField(max_length=240)
    text = models.TextField()
    html = models.TextField(blank=True)
    language = models.CharField(max_length=8, default="en")
    attachments = models.JSONField(default=list, blank=True)
    headers = models.JSONField(default=dict, blank=True)
    is_optional = models.BooleanField(default=False)
    in_hours = models.BooleanField(default=False, help_text=_("Leaves in the shop's sending hours only."))
    not_before = models.DateTimeField()
    not_after = models.DateTimeField(null=True, blank=True)
    state = models.CharField(max_length=7, choices=State.choices, default=State.WAITING)
    attempts = models.PositiveSmallIntegerField(default=0)
    claimed_at = models.DateTimeField(null=True, blank=True)
    settled_at = models.DateTimeField(null=True, blank=True)
    error = models.TextField(blank=True)
    put_at = models.DateTimeField()

    objects = ShopManager.from_queryset(MessageRows)()  # type: ignore[misc]

    @property
    def subject_shown(self) -> str:
        """As staff may read it: what opens somebody else's page is for its reader alone."""
        return masked(self.subject) if self.is_for_its_reader_alone else self.subject

    @property
    def text_shown(self) -> str:
        return masked(self.text) if self.is_for_its_reader_alone else self.text

    @property
    def is_for_its_reader_alone(self) -> bool:
        return self.key.startswith(ONE_TIME_CODE)

    class Meta:
        ordering = ["-put_at", "-pk"]
        indexes = [
            models.Index(fields=["not_before"], condition=Q(state="waiting"), name="message_waiting"),
            models.Index(fields=["shop", "state", "-put_at"], name="message_by_state"),
            models.Index(fields=["shop", "about"], name="message_about"),
        ]
        constraints = [
            models.UniqueConstraint(fields=["shop", "key"], name="message_key_once"),
            one_of("message", "state", MessageState),
        ]


class MarkedAddressSource(models.TextChoices):
    SERVER = "server", _("refused by the mail server")
    REPORTED = "reported", _("reported as not arriving")
    STAFF = "staff", _("marked by hand")


class MarkedAddress(ShopOwned):
    """An address that does not take what is sent to it. Nothing more goes there until somebody clears it."""

    Source = MarkedAddressSource

    channel = models.CharField(max_length=12, default="mail")
    address = models.CharField(max_length=254)
    source = models.CharField(max_length=8, choices=Source.choices)
    why = models.CharField(max_length=240, blank=True)
    marked_at = models.DateTimeField()
    cleared_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-marked_at", "-pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["shop", "channel", "address"],
                condition=Q(cleared_at__isnull=True),
                name="marked_address_once",
            ),
            one_of("marked_address", "source", MarkedAddressSource),
        ]


class HookCall(models.Model):
    """A signed call that was accepted: the same one again is not."""

    call = models.CharField(max_length=120, unique=True)
    at = models.DateTimeField(db_index=True)


class Heartbeat(models.Model):
    """When the worker last did something; the health page turns red when this is old."""

    name = models.CharField(max_length=40, unique=True)
    at = models.DateTimeField()
    note = models.CharField(max_length=160, blank=True)
