"""What a holder answers about an edge, and what the desk answers about that."""

from typing import Any
from uuid import UUID, uuid4

from django import forms
from django.utils.translation import gettext_lazy as _

from shopwarranty.jobs.models import Job

from .where import PanelNamed
from .words import SINCE


class ReportForm(forms.Form):
    """Everything may be left open but all of it: something has to be said, or shown."""

    place = forms.ChoiceField(label=_("Which edge"), required=False, widget=forms.RadioSelect)
    since = forms.ChoiceField(
        label=_("Since when"),
        choices=[(key, words) for key, words, _earliest, _latest in SINCE],
        widget=forms.RadioSelect,
        initial="unknown",
    )
    words = forms.CharField(
        label=_("In your words"),
        required=False,
        max_length=1000,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text=_("For example: it lifts about as long as a thumb, and dirt gets under it."),
    )
    sent_as = forms.UUIDField(widget=forms.HiddenInput, required=False)

    def __init__(self, *args: Any, panel: PanelNamed | None, has_photos: bool = False, **more: Any) -> None:
        super().__init__(*args, **more)
        self.has_photos = has_photos
        self.fields["sent_as"].initial = uuid4()
        self.fields["words"].label_suffix = ""
        place = self.fields["place"]
        assert isinstance(place, forms.ChoiceField)
        if panel is None:
            del self.fields["place"]
        else:
            known = [(str(one.pk), one.name) for one in panel.places]
            place.choices = [*known, ("", _("I am not sure which"))]

    def clean(self) -> dict[str, Any]:
        values: dict[str, Any] = super().clean() or self.cleaned_data
        if not (values.get("words") or values.get("place") or self.has_photos):
            raise forms.ValidationError(
                _("Pick the edge, send a photo, or say it in your words: one of the three is enough.")
            )
        return values

    def key(self) -> UUID:
        sent: UUID | None = self.cleaned_data["sent_as"]
        return sent or uuid4()


class AcceptForm(forms.Form):
    """Which film a report is about, where the vehicle has several jobs."""

    job = forms.ModelChoiceField(
        label=_("Which job is it about"),
        queryset=Job.objects.none(),
        widget=forms.RadioSelect,
        empty_label=None,
    )


class ReportAsideForm(forms.Form):
    why = forms.CharField(label=_("Why"), max_length=160)
