"""What a piece is cut from: a roll in stock, film and lot by name, or a lot nobody knows, and why."""

from typing import Any

from django import forms
from django.db.models import F, OuterRef, Subquery
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from shopwarranty.films.actions import lot_named
from shopwarranty.films.models import FilmProduct, Roll
from shopwarranty.shops.history import Actor
from shopwarranty.trade.words import UNKNOWN_LOT_REASONS
from shopwarranty.web.trade_names import first_upper

from ..actions import FilmChoice
from ..models import FilmPiece
from ..record_parts import PieceRecord

FEW = 6
OTHER = "other"


def roll_words(roll: Roll) -> str:
    lot = _("lot %(lot)s") % {"lot": roll.lot} if roll.lot else _("lot unknown")
    held = _("in quarantine") if roll.lot and roll.lot.quarantined_at else ""
    return ", ".join(part for part in (f"{roll.product} {roll.label}", lot, held) if part)


def rolls_on_offer() -> list[Roll]:
    """In stock, the one that film was taken from last first."""
    last = FilmPiece.objects.filter(roll=OuterRef("pk")).order_by("-pk")
    rows = Roll.objects.in_stock().select_related("product", "lot")
    return list(
        rows.annotate(last_piece=Subquery(last.values("pk")[:1])).order_by(
            F("last_piece").desc(nulls_last=True), "-pk"
        )
    )


class FilmForm(forms.Form):
    """`choice()` gives a FilmChoice; a lot typed for the first time is added to the film room."""

    roll = forms.ChoiceField(label=gettext_lazy("Cut from roll"), required=False)
    product = forms.ModelChoiceField(
        FilmProduct.objects.none(),
        label=gettext_lazy("Film"),
        required=False,
        empty_label=gettext_lazy("Not recorded"),
    )
    lot_number = forms.CharField(label=gettext_lazy("Lot"), max_length=60, required=False)
    lot_unknown_reason = forms.ChoiceField(label=gettext_lazy("Lot unknown, because"), required=False)
    supplied_by_owner = forms.BooleanField(
        label=gettext_lazy("The customer brought the film"), required=False
    )

    def __init__(self, *args: Any, **more: Any) -> None:
        super().__init__(*args, **more)
        self.rolls = {str(roll.pk): roll for roll in rolls_on_offer()}
        choices = [(key, roll_words(roll)) for key, roll in self.rolls.items()]
        chosen: Any = self.fields["roll"]
        chosen.choices = [*choices, (OTHER if choices else "", _("No roll of ours, or not known"))]
        if len(choices) <= FEW:
            chosen.widget = forms.RadioSelect(choices=chosen.choices)
        self.fields["product"].queryset = FilmProduct.objects.all()  # type: ignore[attr-defined]
        reasons = [(each.key, first_upper(_(each.words))) for each in UNKNOWN_LOT_REASONS]
        self.fields["lot_unknown_reason"].choices = [("", "—"), *reasons]  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        values = super().clean() or {}
        if values.get("lot_number") and not values.get("product") and not self.chosen_roll():
            self.add_error("product", _("A lot belongs to a film: say which."))
        if values.get("lot_number") and values.get("lot_unknown_reason"):
            self.add_error("lot_unknown_reason", _("Either the lot is known, or it is not."))
        return values

    def chosen_roll(self) -> Roll | None:
        return self.rolls.get(str(self.cleaned_data.get("roll") or ""))

    def choice(self, *, actor: Actor, now: Any) -> FilmChoice:
        values, roll = self.cleaned_data, self.chosen_roll()
        if roll:
            return FilmChoice(roll=roll, supplied_by_owner=values["supplied_by_owner"])
        product, number = values["product"], values["lot_number"]
        lot = lot_named(product=product, number=number, actor=actor, now=now) if number else None
        return FilmChoice(
            product=product,
            lot=lot,
            lot_unknown_reason="" if lot else values["lot_unknown_reason"],
            supplied_by_owner=values["supplied_by_owner"],
        )


def initial_of(piece: PieceRecord) -> dict[str, Any]:
    return {
        "roll": str(piece.roll_id) if piece.roll_id else OTHER,
        "product": piece.film.id if piece.film and not piece.roll_id else None,
        "lot_number": "" if piece.roll_id else piece.lot,
        "lot_unknown_reason": "" if piece.roll_id else piece.lot_unknown_reason,
        "supplied_by_owner": piece.supplied_by_owner,
    }


class PieceForm(FilmForm):
    """A further piece: beside the others, over them, or in the place of one."""

    name = forms.CharField(label=gettext_lazy("Called"), max_length=60, required=False)
    lies = forms.ChoiceField(
        label=gettext_lazy("Lies"),
        widget=forms.RadioSelect,
        choices=[
            ("beside", gettext_lazy("beside, meeting at a seam")),
            ("over", gettext_lazy("over the others")),
            ("instead", gettext_lazy("in place of one")),
        ],
        initial="beside",
    )
    replaces = forms.ChoiceField(label=gettext_lazy("In place of"), required=False)
    field_order = ["lies", "replaces", "name"]

    def __init__(self, *args: Any, pieces: tuple[PieceRecord, ...], **more: Any) -> None:
        super().__init__(*args, **more)
        names = [(str(piece.id), piece_words(piece)) for piece in pieces]
        self.fields["replaces"].choices = [("", "—"), *names]  # type: ignore[attr-defined]
        self.layers = max((piece.layer for piece in pieces), default=0)

    def clean(self) -> dict[str, Any]:
        values = super().clean()
        if values.get("lies") == "instead" and not values.get("replaces"):
            self.add_error("replaces", _("Say which piece it replaces."))
        return values

    @property
    def layer(self) -> int:
        return self.layers + 1 if self.cleaned_data["lies"] == "over" else 1


def film_words(piece: PieceRecord) -> str:
    """Film, lot and roll of a piece in one phrase."""
    lot = _("lot %(lot)s") % {"lot": piece.lot} if piece.lot else _("lot unknown")
    roll = _("roll %(roll)s") % {"roll": piece.roll} if piece.roll else ""
    return ", ".join(part for part in (str(piece.film or _("not recorded")), lot, roll) if part)


def piece_words(piece: PieceRecord) -> str:
    """ "piece 2, inlay, Alder Clear 8" """
    parts = (_("piece %(n)s") % {"n": piece.number}, piece.name, str(piece.film or ""))
    return ", ".join(part for part in parts if part)
