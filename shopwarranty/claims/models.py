import uuid

from django.db import models
from django.db.models import Q
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from shopwarranty.defects.models import Defect
from shopwarranty.films.models import FilmProduct, Lot, MakerTerms
from shopwarranty.inspections.models import Visit
from shopwarranty.jobs.models import FilmPiece, Party, Photo, Place, Vehicle
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


class ClaimChannel(models.TextChoices):
    IN_PERSON = "in_person", _("at the desk")
    TELEPHONE = "telephone", _("by telephone")
    MAIL = "mail", _("by e-mail or letter")
    VISIT = "visit", _("at a visit")
    HOLDER = "holder", _("on the holder's page")


class Claim(ShopOwned):
    """A holder's request under a certificate, by the stages of complaint handling.

    The day of the first report decides what was in cover; when it was typed in stands beside it.
    """

    freeze = Freeze(
        free=(
            "state",
            "state_since",
            "due_on",
            "is_safety",
            "is_spreading",
            "first_reported_at",
            "holder_said",
        ),
        personal=("wanted", "words"),
    )

    State = ClaimState

    Channel = ClaimChannel

    uid = models.UUIDField(default=uuid.uuid4, editable=False)
    number = models.CharField(max_length=24)
    vehicle = models.ForeignKey(Vehicle, models.PROTECT, related_name="claims")
    certificate = models.ForeignKey(Certificate, models.PROTECT, null=True, blank=True, related_name="claims")
    claimant = models.ForeignKey(Party, models.PROTECT, null=True, blank=True, related_name="claims")
    first_reported_at = models.DateTimeField()
    received_at = models.DateTimeField()
    channel = models.CharField(max_length=12, choices=Channel.choices, default=Channel.IN_PERSON)
    visit = models.ForeignKey(Visit, models.PROTECT, null=True, blank=True, related_name="claims")
    opened_by = models.ForeignKey("shops.Member", models.PROTECT, null=True, blank=True, related_name="+")
    wanted = models.CharField(max_length=160, blank=True)
    words = models.TextField(blank=True)
    is_safety = models.BooleanField(null=True, blank=True)
    is_spreading = models.BooleanField(null=True, blank=True)
    holder_said = models.TextField(blank=True, help_text=_("The holder's answer, before it is closed."))
    state = models.CharField(max_length=13, choices=State.choices, default=State.RECEIVED)
    state_since = models.DateTimeField(default=timezone.now)
    due_on = models.DateField(null=True, blank=True, help_text=_("When this stage should be over."))

    class Meta:
        ordering = ["-received_at"]
        indexes = [
            models.Index(fields=["shop", "state", "received_at"], name="claim_by_state"),
            models.Index(fields=["shop", "vehicle"], name="claim_of_vehicle"),
        ]
        constraints = [
            models.UniqueConstraint(fields=["shop", "uid"], name="claim_one_uid"),
            one_of("claim", "channel", ClaimChannel),
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
    """One thing that a claim is about; decided by itself. Place and defect may be matched later."""

    freeze = Freeze(free=("place", "defect", "is_ours"), personal=("words",))

    claim = models.ForeignKey(Claim, models.PROTECT, related_name="items")
    place = models.ForeignKey(Place, models.PROTECT, null=True, blank=True, related_name="+")
    defect = models.ForeignKey(Defect, models.PROTECT, null=True, blank=True, related_name="claims")
    words = models.TextField(blank=True)
    is_ours = models.BooleanField(
        null=True, blank=True, help_text=_("Film of ours, of somebody else, or not looked at yet.")
    )

    class Meta:
        ordering = ["pk"]
        indexes = [models.Index(fields=["shop", "claim"], name="claimed_defect_of_claim")]

    def __str__(self) -> str:
        return f"{self.claim_id}/{self.pk}"


class ClaimPhoto(ShopOwned):
    claim = models.ForeignKey(Claim, models.PROTECT, related_name="photos")
    photo = models.ForeignKey(Photo, models.PROTECT, related_name="+")

    class Meta:
        constraints = [models.UniqueConstraint(fields=["shop", "claim", "photo"], name="claim_photo_once")]


class ClaimFact(ShopOwned):
    """A fact that speaks for one exclusion, with where it can be seen. Without one no exclusion is shown."""

    freeze = Freeze(free=("set_aside_at",), personal=("words", "seen_where"))

    item = models.ForeignKey(ClaimedDefect, models.PROTECT, related_name="facts")
    clause = models.TextField(help_text=_("The exclusion, as it stands on the certificate."))
    words = models.TextField()
    seen_where = models.CharField(max_length=200)
    photo = models.ForeignKey(Photo, models.PROTECT, null=True, blank=True, related_name="+")
    member = models.ForeignKey("shops.Member", models.PROTECT, null=True, related_name="+")
    at = models.DateTimeField()
    set_aside_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["at", "pk"]
        indexes = [models.Index(fields=["shop", "item"], name="claim_fact_of_item")]
        constraints = [
            models.CheckConstraint(
                condition=~Q(clause="") & ~Q(words="") & ~Q(seen_where=""), name="claim_fact_says_where"
            )
        ]


class DecisionAnswer(models.TextChoices):
    ACCEPT = "accept", _("accepted")
    PART = "part", _("accepted in part")
    REFUSE = "refuse", _("refused")
    GOODWILL = "goodwill", _("goodwill")


class Decision(ShopOwned):
    """What a person decided about one claimed defect. A changed mind is a later decision."""

    freeze = Freeze(personal=("fact", "reason"))

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


class Proposal(ShopOwned):
    """What the desk prepared for one claimed defect; an owner decides."""

    item = models.OneToOneField(ClaimedDefect, models.PROTECT, related_name="proposal")
    answer = models.CharField(max_length=8, choices=DecisionAnswer.choices)
    ground = models.CharField(max_length=40, blank=True)
    reason = models.TextField()
    member = models.ForeignKey("shops.Member", models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        indexes = [models.Index(fields=["shop", "item"], name="proposal_of_item")]
        constraints = [one_of("proposal", "answer", DecisionAnswer)]


class LetterAbout(models.TextChoices):
    RECEIVED = "received", _("received")
    DECISION = "decision", _("decision")


class Letter(ShopOwned):
    """What was told to the claimant, kept exactly as sent."""

    freeze = Freeze(personal=("to", "text", "pdf_sha256"))

    About = LetterAbout

    claim = models.ForeignKey(Claim, models.PROTECT, related_name="letters")
    about = models.CharField(max_length=8, choices=About.choices, default=About.DECISION)
    to = models.CharField(max_length=254, blank=True)
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
    DROPPED = "dropped", _("given up")


class MakerClaim(ShopOwned):
    """A claim of the shop to a film maker, about one lot or roll. What was sent stays as it was sent.

    `file_by`: the last day to send it by the maker's terms; `answer_due_on`: when they owe an answer.
    """

    freeze = Freeze(
        free=(
            "state",
            "sent_on",
            "sent_to",
            "answer_due_on",
            "answered_on",
            "credited",
            "maker_reference",
            "answer",
            "pdf_sha256",
        ),
        when="OLD.state <> 'draft'",
    )

    State = MakerClaimState

    number = models.CharField(max_length=24)
    product = models.ForeignKey(FilmProduct, models.PROTECT, related_name="maker_claims")
    lot = models.ForeignKey(Lot, models.PROTECT, null=True, blank=True, related_name="maker_claims")
    terms = models.ForeignKey(MakerTerms, models.PROTECT, null=True, blank=True, related_name="+")
    state = models.CharField(max_length=8, choices=State.choices, default=State.DRAFT)
    file_by = models.DateField(null=True, blank=True)
    sent_on = models.DateField(null=True, blank=True)
    sent_to = models.CharField(max_length=254, blank=True)
    answer_due_on = models.DateField(null=True, blank=True)
    answered_on = models.DateField(null=True, blank=True)
    asked = models.DecimalField(max_digits=10, decimal_places=2, null=True, blank=True)
    credited = models.DecimalField(max_digits=10, decimal_places=2, null=True, blank=True)
    maker_reference = models.CharField(max_length=60, blank=True)
    words = models.TextField(blank=True)
    answer = models.TextField(blank=True)
    with_vin = models.BooleanField(default=False)
    pdf_sha256 = models.CharField(max_length=64, blank=True)
    made_at = models.DateTimeField()
    made_by = models.ForeignKey("shops.Member", models.PROTECT, null=True, blank=True, related_name="+")

    class Meta:
        ordering = ["-made_at"]
        indexes = [models.Index(fields=["shop", "state"], name="maker_claim_by_state")]
        constraints = [
            models.UniqueConstraint(fields=["shop", "number"], name="maker_claim_once"),
            one_of("maker_claim", "state", MakerClaimState),
            models.CheckConstraint(
                condition=~Q(state="credited") | Q(credited__isnull=False),
                name="maker_claim_credit_says_what",
            ),
        ]

    def __str__(self) -> str:
        return self.number


class MakerClaimPiece(ShopOwned):
    """One thing that is wrong with film of the lot: a defect of a piece, or the piece itself."""

    freeze = Freeze(when="(SELECT state FROM claims_makerclaim m WHERE m.id = OLD.maker_claim_id) <> 'draft'")

    maker_claim = models.ForeignKey(MakerClaim, models.PROTECT, related_name="pieces")
    piece = models.ForeignKey(FilmPiece, models.PROTECT, related_name="+")
    defect = models.ForeignKey(Defect, models.PROTECT, null=True, blank=True, related_name="+")

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["shop", "maker_claim", "piece"],
                condition=Q(defect__isnull=True),
                name="maker_claim_whole_piece_once",
            ),
            models.UniqueConstraint(
                fields=["shop", "maker_claim", "defect"],
                condition=Q(defect__isnull=False),
                name="maker_claim_defect_once",
            ),
        ]


from . import stage_days as stage_days  # noqa: E402 - its table is known from the start, as every other
