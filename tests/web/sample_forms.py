"""A form with one field of every kind the furniture draws."""

from django import forms

from shopwarranty.web.fields import YesNoNotRecorded

DEFECTS = ("Edge lift", "Corner lift", "Pocket", "Crease", "Other")
PREP = ("Wash", "Solvent wipe", "Blow-off", "Static step")


class PanelForm(forms.Form):
    plate = forms.CharField(label="Plate", help_text="As on the vehicle.")
    heated = YesNoNotRecorded(label="Post-heated")
    passes = forms.IntegerField(
        label="Passes", required=False, min_value=0, widget=forms.NumberInput(attrs={"data-usual": "2"})
    )
    temperature = forms.DecimalField(label="Temperature, °F", help_text="Usual 200.")
    kind = forms.ChoiceField(
        label="What is it", widget=forms.RadioSelect, choices=[(word, word) for word in DEFECTS]
    )
    prep = forms.MultipleChoiceField(
        label="Prep done",
        required=False,
        widget=forms.CheckboxSelectMultiple,
        choices=[(word, word) for word in PREP],
    )
    film = forms.ChoiceField(label="Film", choices=[("", "Choose"), ("a", "Alder Clear 8")])
    looked = forms.BooleanField(
        label="Looked at every edge", required=False, help_text="Looked, not guessed."
    )
    laid_at = forms.SplitDateTimeField(label="Laid at")
    photo = forms.FileField(label="Photo", required=False)
    note = forms.CharField(label="Why", widget=forms.Textarea, max_length=200)
    ticket = forms.CharField(widget=forms.HiddenInput, required=False)
