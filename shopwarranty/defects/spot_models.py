"""What tells swept from looked at: places drawn at random and looked at again, and time on each panel."""

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from shopwarranty.inspections.models import Visit
from shopwarranty.jobs.models import PanelWork, Photo, Place
from shopwarranty.shops.rows import PhoneMade, ShopOwned
from shopwarranty.shops.triggers import Freeze


class SpotFound(models.TextChoices):
    CLEAN = "clean", _("clean again")
    DEFECT = "defect", _("wrong after all")
    NOT_SHOWN = "not_shown", _("not looked at again")


class SpotProof(PhoneMade):
    """A place said clean with the rest of its panel, drawn at random to be looked at by itself.

    What was wrong after all, among those looked at again, is how often a sweep misses.
    """

    freeze = Freeze(free=("found", "answered_at", "member", "photo", "version"))

    Found = SpotFound

    visit = models.ForeignKey(Visit, models.PROTECT, related_name="spots")
    place = models.ForeignKey(Place, models.PROTECT, related_name="+")
    drawn_at = models.DateTimeField()
    drawn_from = models.PositiveIntegerField(help_text=_("Places swept until then that could be drawn."))
    found = models.CharField(max_length=9, choices=SpotFound.choices, blank=True)
    answered_at = models.DateTimeField(null=True, blank=True)
    member = models.ForeignKey("shops.Member", models.PROTECT, null=True, blank=True, related_name="+")
    photo = models.ForeignKey(Photo, models.PROTECT, null=True, blank=True, related_name="+")

    class Meta(PhoneMade.Meta):
        ordering = ["drawn_at", "pk"]
        constraints = [
            *PhoneMade.Meta.constraints,
            models.UniqueConstraint(fields=["shop", "visit", "place"], name="spot_once_a_visit"),
            models.CheckConstraint(
                condition=Q(found="", answered_at__isnull=True)
                | (~Q(found="") & Q(answered_at__isnull=False)),
                name="spot_answer_has_moment",
            ),
            models.CheckConstraint(
                condition=Q(found__in=["", *SpotFound.values]), name="spot_proof_found_known"
            ),
        ]


class PanelLook(ShopOwned):
    """One page of a visit as it was saved: when it was opened, when saved, and how much was swept with it."""

    freeze = Freeze()

    visit = models.ForeignKey(Visit, models.PROTECT, related_name="panel_looks")
    panel_work = models.ForeignKey(PanelWork, models.PROTECT, related_name="+")
    opened_at = models.DateTimeField(null=True, blank=True)
    saved_at = models.DateTimeField()
    places = models.PositiveSmallIntegerField()
    tapped = models.PositiveSmallIntegerField()
    swept = models.PositiveSmallIntegerField()

    class Meta:
        ordering = ["saved_at", "pk"]
        indexes = [models.Index(fields=["shop", "visit", "saved_at"], name="panel_look_of_visit")]
        constraints = [
            models.CheckConstraint(
                condition=Q(opened_at__isnull=True) | Q(opened_at__lte=models.F("saved_at")),
                name="panel_look_opened_first",
            )
        ]
