from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from shopwarranty.jobs.models import FilmPiece, Job, Party, Vehicle
from shopwarranty.shops.rows import ShopOwned, one_of
from shopwarranty.shops.triggers import Freeze


class Plan(ShopOwned):
    """A warranty plan of the shop; what it says stands in its versions."""

    name = models.CharField(max_length=80)
    is_usual = models.BooleanField(default=False)
    retired_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["name"]
        constraints = [
            models.UniqueConstraint(fields=["shop", "name"], name="plan_once"),
            models.UniqueConstraint(fields=["shop"], condition=Q(is_usual=True), name="plan_one_usual"),
        ]

    def __str__(self) -> str:
        return self.name


class PlanVersionTransfer(models.TextChoices):
    NONE = "none", _("only the first holder")
    ONCE = "once_with_notice", _("once, with notice to the shop")
    FREE = "free", _("whoever owns the vehicle")


class PlanVersionRelaid(models.TextChoices):
    ORIGINAL_END = "original_end", _("until the last day of the film it replaces")
    NEW_TERM = "new_term", _("a full term from the day it is laid")


class PlanVersion(ShopOwned):
    """The words of a plan. Once published it never changes; a change is a new version.

    Lists (exclusions, duties, aftercare, claim_steps) are JSON lists of sentences.
    """

    freeze = Freeze(when="OLD.published_at IS NOT NULL")

    Transfer = PlanVersionTransfer

    Relaid = PlanVersionRelaid

    plan = models.ForeignKey(Plan, models.PROTECT, related_name="versions")
    number = models.PositiveSmallIntegerField()
    language = models.CharField(max_length=8, default="en")
    is_full = models.BooleanField(default=False)
    exclusions = models.JSONField(default=list)
    duties = models.JSONField(default=list)
    aftercare = models.JSONField(default=list)
    claim_steps = models.JSONField(default=list)
    paid = models.TextField(blank=True)
    not_paid = models.TextField(blank=True)
    transfer = models.CharField(max_length=16, choices=Transfer.choices, default=Transfer.FREE)
    transfer_words = models.TextField(blank=True)
    relaid = models.CharField(max_length=12, choices=Relaid.choices, default=Relaid.ORIGINAL_END)
    territory = models.CharField(max_length=160, blank=True)
    dispute_procedure = models.TextField(blank=True)
    limits_implied = models.BooleanField(default=False)
    limits_implied_words = models.TextField(blank=True)
    excludes_consequential = models.BooleanField(default=False)
    excludes_consequential_words = models.TextField(blank=True)
    claim_expense_words = models.TextField(blank=True)
    written_by = models.ForeignKey("shops.Member", models.PROTECT, null=True, related_name="+")
    written_at = models.DateTimeField()
    published_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["plan", "-number"]
        constraints = [
            models.UniqueConstraint(fields=["shop", "plan", "number"], name="plan_version_once"),
            one_of("plan_version", "transfer", PlanVersionTransfer),
            one_of("plan_version", "relaid", PlanVersionRelaid),
        ]

    def __str__(self) -> str:
        return f"{self.plan.name} {self.number}"


class CoverLineWarrantor(models.TextChoices):
    SHOP = "shop", _("the shop")
    MAKER = "maker", _("the film maker")


class CoverLineSurface(models.TextChoices):
    ALL = "all", _("all covered panels")
    HORIZONTAL = "horizontal", _("horizontal panels")
    VERTICAL = "vertical", _("other panels")


class CoverLine(ShopOwned):
    """One promise: these defect kinds, this long, made by the shop or by the film maker, with this remedy."""

    freeze = Freeze(
        when="(SELECT published_at FROM warranty_planversion WHERE id = OLD.plan_version_id) IS NOT NULL"
    )

    Warrantor = CoverLineWarrantor

    Surface = CoverLineSurface

    plan_version = models.ForeignKey(PlanVersion, models.PROTECT, related_name="lines")
    position = models.PositiveSmallIntegerField(default=1)
    title = models.CharField(max_length=160)
    defect_kinds = models.JSONField(default=list)
    surface = models.CharField(max_length=10, choices=Surface.choices, default=Surface.ALL)
    family = models.CharField(max_length=24, blank=True)
    years = models.PositiveSmallIntegerField(default=0)
    months = models.PositiveSmallIntegerField(default=0)
    days = models.PositiveSmallIntegerField(default=0)
    warrantor = models.CharField(max_length=5, choices=Warrantor.choices, default=Warrantor.SHOP)
    remedy = models.TextField()

    class Meta:
        ordering = ["position", "pk"]
        constraints = [
            one_of("cover_line", "warrantor", CoverLineWarrantor),
            one_of("cover_line", "surface", CoverLineSurface),
            models.UniqueConstraint(fields=["shop", "plan_version", "position"], name="cover_line_position"),
            models.CheckConstraint(
                condition=Q(years__gt=0) | Q(months__gt=0) | Q(days__gt=0), name="cover_line_has_term"
            ),
        ]


class CertificateState(models.TextChoices):
    ISSUED = "issued", _("issued")
    REPLACED = "replaced", _("replaced")
    WITHDRAWN = "withdrawn", _("withdrawn")


class CertificateWithdrawnReason(models.TextChoices):
    ERROR = "issued_in_error", _("issued in error")
    UNDONE = "contract_undone", _("contract undone for both sides")


class Certificate(ShopOwned):
    """The written warranty as issued: a frozen snapshot with a number. Only its state may move on."""

    freeze = Freeze(
        free=("state", "withdrawn_at", "withdrawn_by", "withdrawn_reason", "replaced_at", "holder_hidden_at"),
        personal=("snapshot", "pdf_sha256", "pdf_length"),
    )

    State = CertificateState

    WithdrawnReason = CertificateWithdrawnReason

    job = models.ForeignKey(Job, models.PROTECT, related_name="certificates")
    vehicle = models.ForeignKey(Vehicle, models.PROTECT, related_name="certificates")
    holder = models.ForeignKey(Party, models.PROTECT, related_name="certificates")
    plan_version = models.ForeignKey(PlanVersion, models.PROTECT, related_name="certificates")
    number = models.CharField(max_length=24)
    edition = models.PositiveSmallIntegerField(default=1)
    code = models.CharField(max_length=32, unique=True)
    state = models.CharField(max_length=9, choices=State.choices, default=State.ISSUED)
    predecessor = models.ForeignKey("self", models.PROTECT, null=True, blank=True, related_name="successors")
    issued_at = models.DateTimeField()
    issued_on = models.DateField()
    issued_by = models.ForeignKey("shops.Member", models.PROTECT, null=True, related_name="+")
    starts_on = models.DateField()
    last_day = models.DateField(help_text=_("The latest last covered day of its lines."))
    legal_profile = models.CharField(max_length=5)
    language = models.CharField(max_length=8)
    snapshot = models.JSONField()
    snapshot_sha256 = models.CharField(max_length=64)
    pdf_sha256 = models.CharField(max_length=64)
    pdf_length = models.PositiveIntegerField()
    replaced_at = models.DateTimeField(null=True, blank=True)
    withdrawn_at = models.DateTimeField(null=True, blank=True)
    withdrawn_by = models.ForeignKey("shops.Member", models.PROTECT, null=True, blank=True, related_name="+")
    withdrawn_reason = models.CharField(max_length=16, choices=WithdrawnReason.choices, blank=True)
    holder_hidden_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-issued_at", "-pk"]
        indexes = [
            models.Index(fields=["shop", "-issued_at"], name="certificate_latest"),
            models.Index(fields=["shop", "vehicle"], name="certificate_of_vehicle"),
            models.Index(fields=["shop", "last_day"], name="certificate_by_last_day"),
        ]
        constraints = [
            models.UniqueConstraint(fields=["shop", "number", "edition"], name="certificate_number_once"),
            models.UniqueConstraint(
                fields=["shop", "job"],
                condition=Q(state="issued"),
                name="certificate_one_in_force",
                violation_error_message=_("This job already has a certificate in force."),
            ),
            one_of("certificate", "state", CertificateState),
            models.CheckConstraint(
                condition=(Q(state="withdrawn") & ~Q(withdrawn_reason="") & Q(withdrawn_at__isnull=False))
                | (~Q(state="withdrawn") & Q(withdrawn_reason="", withdrawn_at__isnull=True)),
                name="certificate_withdrawn_with_reason",
            ),
        ]

    def __str__(self) -> str:
        return self.number


class Cover(ShopOwned):
    """One promise of a certificate for one film piece, with its own dates."""

    freeze = Freeze()

    certificate = models.ForeignKey(Certificate, models.PROTECT, related_name="covers")
    piece = models.ForeignKey(FilmPiece, models.PROTECT, related_name="covers")
    line = models.ForeignKey(CoverLine, models.PROTECT, related_name="covers")
    starts_on = models.DateField()
    last_day = models.DateField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["shop", "certificate", "piece", "line"], name="cover_once"),
            models.CheckConstraint(
                condition=Q(last_day__gte=models.F("starts_on")), name="cover_ends_after_start"
            ),
        ]


class Transfer(ShopOwned):
    """The vehicle went to a new holder; end dates stay."""

    freeze = Freeze(personal=("odometer", "note"))

    certificate = models.ForeignKey(Certificate, models.PROTECT, related_name="transfers")
    from_party = models.ForeignKey(Party, models.PROTECT, related_name="+")
    to_party = models.ForeignKey(Party, models.PROTECT, related_name="+")
    on = models.DateField()
    consented_at = models.DateTimeField(null=True, blank=True)
    allowed_by_terms = models.BooleanField()
    odometer = models.CharField(max_length=24, blank=True)
    note = models.TextField(blank=True)
    member = models.ForeignKey("shops.Member", models.PROTECT, null=True, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ["-at"]
        indexes = [models.Index(fields=["shop", "certificate"], name="transfer_of_certificate")]


class ReasonGiven(ShopOwned):
    """Something was asked about before handover or issue, and a person gave a reason to go on."""

    freeze = Freeze(personal=("reason",))

    job = models.ForeignKey(Job, models.PROTECT, related_name="reasons_given")
    question = models.CharField(
        max_length=80, help_text=_("What was asked, e.g. quarantined_lot:12 or US-N2.")
    )
    reason = models.TextField()
    member = models.ForeignKey("shops.Member", models.PROTECT, null=True, related_name="+")
    at = models.DateTimeField()

    class Meta:
        indexes = [models.Index(fields=["shop", "job"], name="reason_of_job")]
        constraints = [models.CheckConstraint(condition=~Q(reason=""), name="reason_not_empty")]


class TextConfirmation(ShopOwned):
    """The shop confirmed a legal text at its source: who, when, where it was read."""

    freeze = Freeze()

    identifier = models.CharField(max_length=24)
    text_version = models.CharField(max_length=24)
    read_where = models.CharField(max_length=200)
    member = models.ForeignKey("shops.Member", models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        indexes = [models.Index(fields=["shop", "identifier"], name="confirmation_of_text")]


class SigningKey(ShopOwned):
    """What a shop signs its certificates with: the key sealed, the X.509 certificate in the open.

    The seal is kept outside database and backup; signatures that were given stay valid without it.
    """

    freeze = Freeze(free=("retired_at",))

    sealed = models.BinaryField()
    certificate_pem = models.TextField()
    fingerprint = models.CharField(max_length=64)
    is_own = models.BooleanField(default=False, help_text=_("Brought by the shop, not made here."))
    made_at = models.DateTimeField()
    made_by = models.ForeignKey("shops.Member", models.PROTECT, null=True, blank=True, related_name="+")
    retired_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-made_at", "-pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["shop"], condition=Q(retired_at__isnull=True), name="signing_key_one_in_use"
            ),
            models.UniqueConstraint(fields=["shop", "fingerprint"], name="signing_key_once"),
        ]

    def __str__(self) -> str:
        return self.fingerprint[:16]


class MatchTry(ShopOwned):
    """How often somebody compared a plate or VIN with a certificate within one hour; swept after two days.

    `who` is a keyed hash of the address asked from, so that no address is kept.
    """

    certificate = models.ForeignKey(Certificate, models.PROTECT, related_name="+")
    who = models.CharField(max_length=32)
    hour = models.DateTimeField()
    times = models.PositiveIntegerField(default=0)

    class Meta:
        indexes = [models.Index(fields=["hour"], name="match_try_by_hour")]
        constraints = [
            models.UniqueConstraint(fields=["shop", "certificate", "who", "hour"], name="match_try_once")
        ]
