from django.db import models

from shopwarranty.shops.rows import PhoneMade, ShopOwned, basis_field, degrees, typed_field, value_has_basis

from .job import Job, word, yes_no

YES_NO = ("washed", "solvent_wiped", "blown_off", "static_step", "blade_fresh")
WORDS = ("laid", "stretch", "hardware", "blade_kind")


class PanelWork(PhoneMade):
    """What was done on one panel in one job. Field names are those of `trade.technique` at panel level."""

    job = models.ForeignKey(Job, models.PROTECT, related_name="panels")
    panel = models.CharField(
        max_length=48, help_text="Key of the catalogue, or of a panel that the shop added."
    )
    walk = models.PositiveSmallIntegerField(default=0, help_text="Place in the walking order.")
    washed = yes_no()
    washed_basis = basis_field()
    solvent_wiped = yes_no()
    solvent_wiped_basis = basis_field()
    blown_off = yes_no()
    blown_off_basis = basis_field()
    static_step = yes_no()
    static_step_basis = basis_field()
    laid = word()
    laid_basis = basis_field()
    forming_heat_c = degrees()
    forming_heat_c_basis = basis_field()
    forming_heat_typed = typed_field()
    stretch = word()
    stretch_basis = basis_field()
    hardware = word()
    hardware_basis = basis_field()
    blade_fresh = yes_no()
    blade_fresh_basis = basis_field()
    blade_kind = word()
    blade_kind_basis = basis_field()
    confirmed_at = models.DateTimeField(null=True, blank=True)
    confirmed_by = models.ForeignKey("shops.Member", models.PROTECT, null=True, blank=True, related_name="+")
    finished_at = models.DateTimeField(null=True, blank=True)
    removed_on = models.DateField(null=True, blank=True)
    removed_why = models.CharField(max_length=24, blank=True)
    note = models.TextField(blank=True)

    class Meta(PhoneMade.Meta):
        ordering = ["walk", "pk"]
        indexes = [models.Index(fields=["shop", "finished_at"], name="panel_work_finished")]
        constraints = [
            *PhoneMade.Meta.constraints,
            models.UniqueConstraint(fields=["shop", "job", "panel"], name="panel_once_a_job"),
            *(value_has_basis("panel_work", field) for field in (*YES_NO, "forming_heat_c")),
            *(value_has_basis("panel_work", field, text=True) for field in WORDS),
        ]

    def __str__(self) -> str:
        return self.panel


class PanelIntake(PhoneMade):
    """The panel as it came: what the film goes on, old marks, and that the holder was shown them."""

    panel_work = models.OneToOneField(PanelWork, models.PROTECT, related_name="intake")
    substrate = models.CharField(max_length=12, blank=True)
    painted_on = models.DateField(null=True, blank=True)
    marks = models.TextField(blank=True)
    acknowledged_at = models.DateTimeField(null=True, blank=True)
    acknowledged_by = models.CharField(max_length=160, blank=True)
    member = models.ForeignKey("shops.Member", models.PROTECT, null=True, blank=True, related_name="+")
    at = models.DateTimeField()

    class Meta(PhoneMade.Meta):
        pass


class PanelMember(ShopOwned):
    """Who worked on the panel. Figures count by the lead, so that no panel counts twice."""

    panel_work = models.ForeignKey(PanelWork, models.PROTECT, related_name="members")
    member = models.ForeignKey("shops.Member", models.PROTECT, related_name="+")
    is_lead = models.BooleanField(default=True)
    part = models.CharField(max_length=80, blank=True)

    class Meta:
        ordering = ["-is_lead", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["shop", "panel_work", "member"], name="panel_member_once"),
            models.UniqueConstraint(
                fields=["shop", "panel_work"], condition=models.Q(is_lead=True), name="panel_one_lead"
            ),
        ]


class RemovedItem(PhoneMade):
    """Something taken off the vehicle. Before handover it is refitted, replaced or given back."""

    panel_work = models.ForeignKey(PanelWork, models.PROTECT, related_name="removed_items")
    name = models.CharField(max_length=80)
    outcome = models.CharField(max_length=10, blank=True)
    settled_at = models.DateTimeField(null=True, blank=True)
    settled_by = models.ForeignKey("shops.Member", models.PROTECT, null=True, blank=True, related_name="+")
    note = models.CharField(max_length=160, blank=True)

    class Meta(PhoneMade.Meta):
        ordering = ["pk"]


class LayingEvent(PhoneMade):
    """Lifted and laid again, air let out with a needle, fold touched down, cut again."""

    panel_work = models.ForeignKey(PanelWork, models.PROTECT, related_name="laying_events")
    place = models.ForeignKey(
        "jobs.Place", models.PROTECT, null=True, blank=True, related_name="laying_events"
    )
    kind = models.CharField(max_length=24)
    at = models.DateTimeField(null=True, blank=True)
    note = models.CharField(max_length=160, blank=True)

    class Meta(PhoneMade.Meta):
        ordering = ["pk"]
