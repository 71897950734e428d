from django.db import models
from django.db.models import Q

from shopwarranty.shops.rows import (
    PhoneMade,
    ShopOwned,
    basis_field,
    degrees,
    millimetres,
    typed_field,
    value_has_basis,
)

from .job import yes_no
from .panels import PanelWork

NUMBERS = ("post_heat_c", "passes", "wrap_in_wanted_mm", "wrap_in_reached_mm")
YES_NO = ("post_heated", "left_short", "primer", "cut_on_panel")


class FilmPiece(PhoneMade):
    """One piece of film on a panel. A panel may carry several (pieces side by side, layers)."""

    panel_work = models.ForeignKey(PanelWork, models.PROTECT, related_name="pieces")
    number = models.PositiveSmallIntegerField(default=1)
    layer = models.PositiveSmallIntegerField(default=1)
    name = models.CharField(max_length=60, blank=True)
    product = models.ForeignKey(
        "films.FilmProduct", models.PROTECT, null=True, blank=True, related_name="pieces"
    )
    lot = models.ForeignKey("films.Lot", models.PROTECT, null=True, blank=True, related_name="pieces")
    lot_unknown_reason = models.CharField(max_length=160, blank=True)
    roll = models.ForeignKey("films.Roll", models.PROTECT, null=True, blank=True, related_name="pieces")
    cut = models.ForeignKey("films.Cut", models.PROTECT, null=True, blank=True, related_name="pieces")
    replaces = models.ForeignKey("self", models.PROTECT, null=True, blank=True, related_name="replaced_by")
    supplied_by_owner = models.BooleanField(default=False)
    ended_on = models.DateField(null=True, blank=True)
    ended_why = models.CharField(max_length=24, blank=True)

    class Meta(PhoneMade.Meta):
        ordering = ["layer", "number", "pk"]
        indexes = [models.Index(fields=["shop", "lot"], name="piece_by_lot")]
        constraints = [
            *PhoneMade.Meta.constraints,
            models.UniqueConstraint(fields=["shop", "panel_work", "number"], name="piece_number_once"),
            models.CheckConstraint(
                condition=Q(lot__isnull=True) | Q(lot_unknown_reason=""), name="piece_lot_or_unknown"
            ),
            models.CheckConstraint(
                condition=Q(ended_on__isnull=True, ended_why="")
                | (Q(ended_on__isnull=False) & ~Q(ended_why="")),
                name="piece_end_has_reason",
            ),
        ]


class Place(PhoneMade):
    """An edge, recess, seam or the field of a film piece, with what was done there.

    Field names are those of `trade.technique` at place level; an empty value means "not recorded".
    """

    piece = models.ForeignKey(FilmPiece, models.PROTECT, related_name="places")
    key = models.CharField(max_length=48)
    kind = models.CharField(max_length=6)
    name = models.CharField(
        max_length=80, blank=True, help_text="For a place that the catalogue does not know."
    )
    walk = models.PositiveSmallIntegerField(default=0)
    other_piece = models.ForeignKey(FilmPiece, models.PROTECT, null=True, blank=True, related_name="+")
    post_heated = yes_no()
    post_heated_basis = basis_field()
    post_heat_c = degrees()
    post_heat_c_basis = basis_field()
    post_heat_typed = typed_field()
    passes = models.PositiveSmallIntegerField(null=True, blank=True)
    passes_basis = basis_field()
    wrap_in_wanted_mm = millimetres()
    wrap_in_wanted_mm_basis = basis_field()
    wrap_in_reached_mm = millimetres()
    wrap_in_reached_mm_basis = basis_field()
    wrap_in_typed = typed_field()
    covered_by = models.CharField(max_length=12, blank=True)
    covered_by_basis = basis_field()
    left_short = yes_no()
    left_short_basis = basis_field()
    primer = yes_no()
    primer_basis = basis_field()
    cut_on_panel = yes_no()
    cut_on_panel_basis = basis_field()
    added_on = models.DateField(null=True, blank=True, help_text="Came under record only on this day.")

    class Meta(PhoneMade.Meta):
        ordering = ["walk", "pk"]
        constraints = [
            *PhoneMade.Meta.constraints,
            models.UniqueConstraint(fields=["shop", "piece", "key"], name="place_once_a_piece"),
            models.CheckConstraint(
                condition=Q(kind__in=["edge", "recess", "seam", "field"]), name="place_kind_known"
            ),
            *(value_has_basis("place", field) for field in (*NUMBERS, *YES_NO)),
            value_has_basis("place", "covered_by", text=True),
        ]


class ShopPanel(ShopOwned):
    """A panel that the shop added to the catalogue, for one body style or for all."""

    key = models.CharField(max_length=48)
    name = models.CharField(max_length=80)
    body_style = models.CharField(max_length=12, blank=True)
    edges = models.JSONField(default=list, help_text="Names of its edges, in order.")
    retired_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["name"]
        constraints = [models.UniqueConstraint(fields=["shop", "key"], name="shop_panel_once")]


class ShopPlace(ShopOwned):
    """An edge or recess that the shop added to a panel, at one of nine spots of the zoomed panel."""

    panel = models.CharField(max_length=48)
    body_style = models.CharField(max_length=12, blank=True)
    key = models.CharField(max_length=48)
    name = models.CharField(max_length=80)
    kind = models.CharField(max_length=6)
    spot = models.PositiveSmallIntegerField(default=5)
    retired_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["name"]
        constraints = [
            models.UniqueConstraint(fields=["shop", "panel", "key"], name="shop_place_once"),
            models.CheckConstraint(condition=Q(kind__in=["edge", "recess"]), name="shop_place_kind"),
            models.CheckConstraint(condition=Q(spot__gte=1, spot__lte=9), name="shop_place_spot_1_to_9"),
        ]
