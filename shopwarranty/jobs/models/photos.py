from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from shopwarranty.shops.rows import PhoneMade, one_of
from shopwarranty.shops.triggers import Freeze

from .job import Job
from .panels import PanelWork
from .pieces import Place
from .vehicles import Vehicle


class PhotoTakenFrom(models.TextChoices):
    CAMERA = "camera", _("by the camera's clock")
    PHONE = "phone", _("by the phone's file")
    UPLOAD = "upload", _("not later than the upload")
    TYPED = "typed", _("as somebody typed it")


class PhotoStage(models.TextChoices):
    INTAKE = "intake", _("as it came")
    WORK = "work", _("during the work")
    HANDOVER = "handover", _("at handover")
    CHECK = "check", _("at a check")
    REPORT = "report", _("from the holder")
    REMEDY = "remedy", _("remedy")


class Photo(PhoneMade):
    """Cleaned bytes under their hash. A photo may move to the right panel; its bytes never change.

    The thumbnail is made by the tick; until then it is empty.
    """

    freeze = Freeze(
        free=(
            "thumbnail_sha256",
            "job",
            "panel_work",
            "place",
            "stage",
            "taken_at",
            "taken_from",
            "caption",
            "set_aside_at",
            "version",
        ),
        personal=("sha256", "original_sha256", "marks"),
    )

    TakenFrom = PhotoTakenFrom

    Stage = PhotoStage

    vehicle = models.ForeignKey(Vehicle, models.PROTECT, related_name="photos")
    job = models.ForeignKey(Job, models.PROTECT, null=True, blank=True, related_name="photos")
    panel_work = models.ForeignKey(PanelWork, models.PROTECT, null=True, blank=True, related_name="photos")
    place = models.ForeignKey(Place, models.PROTECT, null=True, blank=True, related_name="photos")
    stage = models.CharField(max_length=8, choices=Stage.choices)
    sha256 = models.CharField(max_length=64)
    length = models.PositiveIntegerField()
    thumbnail_sha256 = models.CharField(max_length=64, blank=True)
    original_sha256 = models.CharField(max_length=64)
    width = models.PositiveIntegerField()
    height = models.PositiveIntegerField()
    taken_at = models.DateTimeField(null=True, blank=True)
    taken_from = models.CharField(max_length=6, choices=TakenFrom.choices, default=TakenFrom.UPLOAD)
    added_at = models.DateTimeField()
    added_by = models.ForeignKey("shops.Member", models.PROTECT, null=True, blank=True, related_name="+")
    marked_from = models.ForeignKey(
        "self", models.PROTECT, null=True, blank=True, related_name="marked_copies"
    )
    marks = models.JSONField(default=list, blank=True)
    caption = models.CharField(max_length=160, blank=True)
    set_aside_at = models.DateTimeField(null=True, blank=True)

    class Meta(PhoneMade.Meta):
        ordering = ["added_at", "pk"]
        indexes = [
            models.Index(fields=["shop", "vehicle", "added_at"], name="photo_of_vehicle"),
            models.Index(fields=["shop", "id"], condition=Q(thumbnail_sha256=""), name="photo_to_shrink"),
        ]
        constraints = [
            *PhoneMade.Meta.constraints,
            one_of("photo", "stage", PhotoStage),
            one_of("photo", "taken_from", PhotoTakenFrom),
        ]
