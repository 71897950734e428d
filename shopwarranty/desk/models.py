"""Certificates issued together: what was chosen, and what became of each."""

import uuid

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from shopwarranty.jobs.models import Job
from shopwarranty.shops.rows import ShopOwned, one_of
from shopwarranty.shops.triggers import Freeze
from shopwarranty.warranty.models import Certificate


class CertificateBatch(ShopOwned):
    """A number of jobs whose certificates somebody asked for at once; the worker issues them one by one."""

    freeze = Freeze(free=("stopped_at", "finished_at"))

    uid = models.UUIDField(default=uuid.uuid4, editable=False)
    mail = models.BooleanField(default=False, help_text=_("Whether each goes to its holder by mail."))
    started_at = models.DateTimeField()
    started_by = models.ForeignKey("shops.Member", models.PROTECT, null=True, related_name="+")
    stopped_at = models.DateTimeField(null=True, blank=True)
    finished_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-started_at", "-pk"]
        indexes = [models.Index(fields=["shop", "-started_at"], name="certificate_batch_latest")]
        constraints = [models.UniqueConstraint(fields=["shop", "uid"], name="certificate_batch_one_uid")]


class BatchLineState(models.TextChoices):
    WAITING = "waiting", _("waiting")
    ISSUED = "issued", _("issued")
    ALREADY = "already", _("had one already")
    REFUSED = "refused", _("not issued")
    STOPPED = "stopped", _("stopped before")


class BatchLine(ShopOwned):
    """One job of a batch. `claimed_at`: a pass of the worker is at it since then."""

    freeze = Freeze(free=("state", "claimed_at", "certificate", "words", "at"))

    State = BatchLineState

    batch = models.ForeignKey(CertificateBatch, models.PROTECT, related_name="lines")
    job = models.ForeignKey(Job, models.PROTECT, related_name="+")
    state = models.CharField(max_length=7, choices=State.choices, default=State.WAITING)
    claimed_at = models.DateTimeField(null=True, blank=True)
    certificate = models.ForeignKey(Certificate, models.PROTECT, null=True, blank=True, related_name="+")
    words = models.TextField(blank=True, help_text=_("Why it was not issued."))
    at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["pk"]
        indexes = [models.Index(fields=["shop", "batch", "state"], name="batch_line_by_state")]
        constraints = [
            models.UniqueConstraint(fields=["shop", "batch", "job"], name="batch_line_once"),
            one_of("batch_line", "state", BatchLineState),
            models.CheckConstraint(
                condition=Q(state__in=["issued", "already"], certificate__isnull=False)
                | (~Q(state__in=["issued", "already"]) & Q(certificate__isnull=True)),
                name="batch_line_names_its_certificate",
            ),
            models.CheckConstraint(
                condition=~Q(state="refused") | ~Q(words=""), name="batch_line_refusal_says_why"
            ),
        ]
