from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from shopwarranty.defects.models import Defect
from shopwarranty.films.models import FilmProduct, Lot
from shopwarranty.jobs.models import FilmPiece, Party, Place, Vehicle
from shopwarranty.shops.rows import ShopOwned, one_of
from shopwarranty.shops.triggers import Freeze
from shopwarranty.warranty.models import Certificate, CoverLine


class ClaimState(models.TextChoices):
    RECEIVED = "received", _("received")
    ACKNOWLEDGED = "acknowledged", _("acknowledged")
    IN_ASSESSMENT = "in_assessment", _("in assessment")
    DECIDED = "decided", _("decided")
    TOLD = "told", _("told")
    REMEDIED = "remedied", _("put right")
    CLOSED = "closed", _("closed")
    REOPENED = "reopened", _("reopened")


class Claim(ShopOwned):
    """A holder's request under a certificate, by the stages of complaint handling."""

    State = ClaimState

    number = models.CharField(max_length=24)
    vehicle = models.ForeignKey(Vehicle, models.PROTECT, related_name="claims")
    certificate = models.ForeignKey(Certificate, models.PROTECT, null=True, blank=True, related_name="claims")
    claimant = models.ForeignKey(Party, models.PROTECT, null=True, blank=True, related_name="claims")
    first_reported_at = models.DateTimeField()
    received_at = models.DateTimeField()
    channel = models.CharField(max_length=12)
    wanted = models.CharField(max_length=160, blank=True)
    words = models.TextField(blank=True)
    is_safety = models.BooleanField(null=True, blank=True)
    state = models.CharField(max_length=13, choices=State.choices, default=State.RECEIVED)

    class Meta:
        ordering = ["-received_at"]
        indexes = [models.Index(fields=["shop", "state", "received_at"], name="claim_by_state")]
        constraints = [
            models.UniqueConstraint(fields=["shop", "number"], name="claim_number_once"),
            one_of("claim", "state", ClaimState),
            models.CheckConstraint(
                condition=Q(first_reported_at__lte=models.F("received_at")),
                name="claim_reported_before_received",
            ),
        ]

    def __str__(self) -> str:
        return self.number


class ClaimedDefect(ShopOwned):
    """One thing that a claim is about; decided by itself."""

    claim = models.ForeignKey(Claim, models.PROTECT, related_name="items")
    place = models.ForeignKey(Place, models.PROTECT, null=True, blank=True, related_name="+")
    defect = models.ForeignKey(Defect, models.PROTECT, null=True, blank=True, related_name="claims")
    words = models.TextField(blank=True)

    class Meta:
        ordering = ["pk"]
        indexes = [models.Index(fields=["shop", "claim"], name="claimed_defect_of_claim")]


class DecisionAnswer(models.TextChoices):
    ACCEPT = "accept", _("accepted")
    PART = "part", _("accepted in part")
    REFUSE = "refuse", _("refused")
    GOODWILL = "goodwill", _("goodwill")


class Decision(ShopOwned):
    """What a person decided about one claimed defect. A changed mind is a later decision."""

    freeze = Freeze()

    Answer = DecisionAnswer

    item = models.ForeignKey(ClaimedDefect, models.PROTECT, related_name="decisions")
    answer = models.CharField(max_length=8, choices=Answer.choices)
    line = models.ForeignKey(CoverLine, models.PROTECT, null=True, blank=True, related_name="+")
    clause = models.TextField(blank=True)
    fact = models.TextField(blank=True)
    reason = models.TextField()
    decided_by = models.ForeignKey("shops.Member", models.PROTECT, related_name="+")
    decided_at = models.DateTimeField()

    class Meta:
        ordering = ["-decided_at", "-pk"]
        indexes = [models.Index(fields=["shop", "item"], name="decision_of_item")]
        constraints = [
            one_of("decision", "answer", DecisionAnswer),
            models.CheckConstraint(
                condition=~Q(answer="refuse") | (~Q(clause="") & ~Q(fact="")),
                name="refusal_has_clause_and_fact",
            ),
        ]


class Letter(ShopOwned):
    """What was told to the claimant, kept exactly as sent."""

    freeze = Freeze()

    claim = models.ForeignKey(Claim, models.PROTECT, related_name="letters")
    text = models.TextField()
    pdf_sha256 = models.CharField(max_length=64, blank=True)
    sent_at = models.DateTimeField()
    sent_by = models.ForeignKey("shops.Member", models.PROTECT, null=True, related_name="+")

    class Meta:
        ordering = ["-sent_at"]
        indexes = [models.Index(fields=["shop", "claim"], name="letter_of_claim")]


class MakerClaimState(models.TextChoices):
    DRAFT = "draft", _("being written")
    SENT = "sent", _("sent")
    ANSWERED = "answered", _("answered")
    CREDITED = "credited", _("credited")
    REFUSED = "refused", _("refused")


class MakerClaim(ShopOwned):
    """A claim of the shop to a film maker."""

    State = MakerClaimState

    number = models.CharField(max_length=24)
    product = models.ForeignKey(FilmProduct, models.PROTECT, related_name="maker_claims")
    lot = models.ForeignKey(Lot, models.PROTECT, null=True, blank=True, related_name="maker_claims")
    state = models.CharField(max_length=8, choices=State.choices, default=State.DRAFT)
    sent_on = models.DateField(null=True, blank=True)
    answer_due_on = models.DateField(null=True, blank=True)
    answered_on = models.DateField(null=True, blank=True)
    asked = models.DecimalField(max_digits=10, decimal_places=2, null=True, blank=True)
    credited = models.DecimalField(max_digits=10, decimal_places=2, null=True, blank=True)
    words = models.TextField(blank=True)
    made_at = models.DateTimeField()

    class Meta:
        ordering = ["-made_at"]
        indexes = [models.Index(fields=["shop", "state"], name="maker_claim_by_state")]
        constraints = [
            models.UniqueConstraint(fields=["shop", "number"], name="maker_claim_once"),
            one_of("maker_claim", "state", MakerClaimState),
        ]


class MakerClaimPiece(ShopOwned):
    maker_claim = models.ForeignKey(MakerClaim, models.PROTECT, related_name="pieces")
    piece = models.ForeignKey(FilmPiece, models.PROTECT, related_name="+")
    defect = models.ForeignKey(Defect, models.PROTECT, null=True, blank=True, related_name="+")

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["shop", "maker_claim", "piece"], name="maker_claim_piece_once")
        ]
