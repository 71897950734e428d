"""What is said about one place on the phone: its answer, and each defect there, how large and how bad."""

from dataclasses import dataclass
from typing import Any

from django import forms
from django.utils.translation import gettext as _now
from django.utils.translation import gettext_lazy as _

from shopwarranty.inspections.models import Finding
from shopwarranty.trade import words
from shopwarranty.trade.defects import SEVERITIES
from shopwarranty.web.formats import MM_PER_INCH, ShopLike, is_us

from .actions import SightSaid
from .kinds import SHOWN_FIRST, KindsOfShop
from .models import Sighting

RESULTS = (
    (Finding.Result.CLEAN, _("Clean")),
    (Finding.Result.DEFECT, _("Wrong")),
    (Finding.Result.NOT_LOOKED, _("Not looked at")),
)
MARKS = {Finding.Result.CLEAN: "clean", Finding.Result.DEFECT: "lift", Finding.Result.NOT_LOOKED: "unseen"}
HOW_BAD = ((1, _("1 trace")), (2, _("2 visible")), (3, _("3 growing")), (4, _("4 loose")))
IN_WORDS = tuple(severity.words for severity in SEVERITIES)


class AnswerForm(forms.Form):
    """Nothing is chosen beforehand: what nobody says stays not looked at."""

    result = forms.ChoiceField(label=_("What do you see"), choices=RESULTS, required=False)
    why_not = forms.ChoiceField(label=_("Why not"), required=False)
    was = forms.IntegerField(required=False, min_value=0)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        reasons = [(choice.key, _now(choice.words)) for choice in words.NOT_LOOKED_REASONS]
        field = self.fields["why_not"]
        assert isinstance(field, forms.ChoiceField)
        field.choices = [("", _now("no reason given")), *reasons]


class SightForm(forms.Form):
    """One defect. The kinds usual at that kind of place are pieces to press, all others a list."""

    use_required_attribute = False
    kind = forms.ChoiceField(
        label=_("What is it"),
        widget=forms.RadioSelect,
        error_messages={"required": _("Say what is wrong here.")},
    )
    other = forms.ChoiceField(label=_("Or something else"), required=False)
    extent = forms.DecimalField(
        label=_("Length"), required=False, min_value=0, max_value=99999, max_digits=8, decimal_places=3
    )
    severity = forms.TypedChoiceField(
        label=_("How bad"),
        choices=HOW_BAD,
        coerce=int,
        widget=forms.RadioSelect,
        error_messages={"required": _("Say how bad it is.")},
    )
    note = forms.CharField(label=_("Note"), required=False, max_length=240)
    photo = forms.FileField(
        label=_("Photo"),
        required=False,
        widget=forms.FileInput(attrs={"accept": "image/*", "capture": "environment"}),
    )

    def __init__(
        self, *args: Any, place_kind: str, kinds: KindsOfShop, shop: ShopLike, **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        self.shop = shop
        offered = [(kind.key, kind.name) for kind in kinds.offered(place_kind)]
        self._choices("kind", offered[:SHOWN_FIRST])
        self._choices("other", [("", "–"), *offered[SHOWN_FIRST:]])
        extent = self.fields["extent"]
        extent.label = _now("Length, in") if is_us(shop) else _now("Length, mm")
        step, usual = ("0.125", "0.5") if is_us(shop) else ("1", "10")
        extent.widget.attrs |= {"step": step, "min": "0", "data-usual": usual, "inputmode": "decimal"}

    def clean(self) -> dict[str, Any]:
        """What is chosen from the list wins over the pieces."""
        values: dict[str, Any] = super().clean() or self.cleaned_data
        if values.get("other"):
            self.errors.pop("kind", None)
            values["kind"] = ""
        return values

    def _choices(self, name: str, choices: list[tuple[str, str]]) -> None:
        field = self.fields[name]
        assert isinstance(field, forms.ChoiceField)
        field.choices = choices

    @property
    def said_kind(self) -> str:
        return str(self.cleaned_data.get("other") or self.cleaned_data.get("kind") or "")

    def sight(self) -> SightSaid:
        typed = self.cleaned_data.get("extent")
        extent = None if typed is None else float(typed * MM_PER_INCH if is_us(self.shop) else typed)
        return SightSaid(
            self.said_kind, self.cleaned_data["severity"], extent_mm=extent, note=self.cleaned_data["note"]
        )


# Coins by their mints' published diameters; the card by ISO/IEC 7810, ID-1: 85.60 by 53.98 mm.
KNOWN_SIZES = (
    (_("US quarter"), 24.26),
    (_("1 euro coin"), 23.25),
    (_("bank card, short side"), 53.98),
    (_("bank card, long side"), 85.6),
)


def rulers(shop: ShopLike) -> list[tuple[str, str]]:
    """Things at hand and how long they are in the shop's unit: mm, or inches to an eighth."""
    if is_us(shop):
        return [(str(words), f"{round(mm / float(MM_PER_INCH) * 8) / 8:g}") for words, mm in KNOWN_SIZES]
    return [(str(words), f"{mm:.0f}") for words, mm in KNOWN_SIZES]


def initial_of(sighting: Sighting, shop: ShopLike, first: tuple[str, ...]) -> dict[str, Any]:
    """A sighting as its form shows it again."""
    kind, mm = sighting.defect.kind, sighting.extent_mm
    extent = None
    if mm is not None:
        extent = f"{mm / float(MM_PER_INCH):.3f}".rstrip("0").rstrip(".") if is_us(shop) else f"{mm:g}"
    return {
        "kind" if kind in first else "other": kind,
        "extent": extent,
        "severity": sighting.severity,
        "note": sighting.note,
    }


@dataclass(frozen=True, slots=True)
class PlaceForms:
    """One place on the page: what it is called, why to look at it first, and its forms.

    `version` is that of the answer stored when the page was made, 0 without one.
    """

    pk: int
    version: int
    name: str
    reason: str
    answer: AnswerForm
    sights: tuple[SightForm, ...]
    said: str
    swept: bool
    baseline: Any = None  # the first photo of this place, to take the next one from the same spot

    @property
    def result(self) -> str:
        """As it stands on the page now: what was typed, else what is stored."""
        return str(self.answer["result"].value() or "")

    @property
    def answers(self) -> list[tuple[str, str, str, bool]]:
        """The three answers: value, mark, words, and whether it is the one given."""
        return [(value, MARKS[value], str(words), value == self.result) for value, words in RESULTS]
