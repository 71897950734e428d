"""How a visit starts and how it ends."""

import base64
from typing import Any

from django import forms
from django.utils.translation import gettext as _now
from django.utils.translation import gettext_lazy as _

from shopwarranty.inspections.models import Visit
from shopwarranty.jobs.clean_photo import PhotoRefused, clean_photo
from shopwarranty.trade.panels import PlaceKind

DAY = {"type": "date"}


class StartForm(forms.Form):
    """The day is today unless somebody says otherwise."""

    happened_on = forms.DateField(
        label=_("Looked at on"),
        required=False,
        widget=forms.DateInput(attrs=DAY),
        help_text=_("Empty: today."),
    )


class LookForm(StartForm):
    """A visit that no check announced."""

    ORIGINS = [
        (Visit.Origin.WALK_IN, _("just came by")),
        (Visit.Origin.DEFECT, _("because something is wrong")),
        (Visit.Origin.CLAIM, _("for a claim")),
    ]
    origin = forms.ChoiceField(label=_("Why is the vehicle here"), choices=ORIGINS, widget=forms.RadioSelect)
    since_when = forms.DateField(
        label=_("Since when, as the holder says"), required=False, widget=forms.DateInput(attrs=DAY)
    )
    since_when_words = forms.CharField(label=_("In the holder's words"), required=False, max_length=120)
    by_photo = forms.BooleanField(
        label=_("Only photos, the vehicle is not here"),
        required=False,
        help_text=_("Photos prove only what they show: the rest stays not looked at."),
    )
    field_order = ["origin", "since_when", "since_when_words", "by_photo", "happened_on"]


class SignatureField(forms.CharField):
    """Drawn with a finger; cleans to a JPEG made anew, or None. What cannot be read is no signature."""

    widget = forms.HiddenInput

    def clean(self, value: Any) -> Any:
        text = super().clean(value)
        if not text:
            return None
        try:
            sent = base64.b64decode(text.removeprefix("data:image/png;base64,"), validate=True)
            return clean_photo(sent, max_bytes=400_000, max_pixels=3_000_000).content
        except (ValueError, PhotoRefused) as error:
            raise forms.ValidationError(_("The signature did not arrive whole. Sign again.")) from error


class EndForm(forms.Form):
    note = forms.CharField(label=_("Note"), required=False, widget=forms.Textarea(attrs={"rows": 3}))
    signed_name = forms.CharField(
        label=_("Seen with"),
        required=False,
        max_length=160,
        help_text=_("Name of whoever stood beside it, if somebody did."),
    )

    signature = SignatureField(required=False)


class UnrecordedForm(forms.Form):
    KINDS = [
        (PlaceKind.EDGE.value, _("edge")),
        (PlaceKind.RECESS.value, _("recess")),
        (PlaceKind.SEAM.value, _("seam")),
    ]
    name = forms.CharField(label=_("What it is called"), max_length=80)
    kind = forms.ChoiceField(label=_("Kind of place"), choices=KINDS, widget=forms.RadioSelect)
    piece: Any = forms.ModelChoiceField(label=_("On which piece of film"), queryset=None, empty_label=None)

    def __init__(self, *args: Any, pieces: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field = self.fields["piece"]
        assert isinstance(field, forms.ModelChoiceField)
        field.queryset = pieces
        field.label_from_instance = piece_words  # type: ignore[method-assign,assignment]
        if len(pieces) == 1:
            field.initial, field.widget = pieces[0].pk, forms.HiddenInput()


def piece_words(piece: Any) -> str:
    name = piece.name or _now("piece %(n)d") % {"n": piece.number}
    return f"{name}, {piece.product}" if piece.product else str(name)


class NotOursForm(forms.Form):
    panel = forms.CharField(label=_("Which panel"), max_length=80)
    words = forms.CharField(label=_("What was seen"), max_length=200)


class CorrectForm(forms.Form):
    why = forms.CharField(
        label=_("Why it is corrected"),
        max_length=160,
        help_text=_("The first answer stays readable beside the new one."),
    )
