"""What is typed about claims."""

from typing import Any

from django import forms
from django.utils.translation import gettext as _now
from django.utils.translation import gettext_lazy as _

from shopwarranty.defects.models import Defect
from shopwarranty.jobs.models import Place, Vehicle
from shopwarranty.jobs.shop_catalogue import ShopCatalogue
from shopwarranty.web.fields import MomentField, YesNoNotRecorded
from shopwarranty.web.trade_names import first_upper

from .actions import Reported
from .case import ItemCase
from .models import Claim, Decision
from .places import place_words
from .promise import open_places

Answer = Decision.Answer
PLACE_OF = "piece__panel_work__job__vehicle"


def text(label: Any, *, rows: int = 2, required: bool = False, help_text: Any = "") -> forms.CharField:
    return forms.CharField(
        label=label,
        required=required,
        help_text=help_text,
        max_length=2000,
        widget=forms.Textarea(attrs={"rows": rows}),
    )


def places_by_panel(vehicle: Vehicle, catalogue: ShopCatalogue) -> list[tuple[str, Any]]:
    """Every place of film on the vehicle, under its panel; film that is gone is marked. One query."""
    rows = Place.objects.filter(open_places(vehicle)).select_related(PLACE_OF)
    found: dict[str, list[tuple[str, str]]] = {}
    for place in rows.order_by("piece__panel_work__walk", "piece__number", "walk"):
        panel, name = place_words(place, catalogue).split(", ", 1)
        gone = _now(" (film that is gone)") if place.piece.ended_on else ""
        found.setdefault(panel, []).append((str(place.pk), f"{first_upper(name)}{gone}"))
    return list(found.items())


class OpenClaimForm(forms.Form):
    """Defects that are known, a place, or words alone: at least one of them."""

    channel = forms.ChoiceField(
        label=_("How it was reported"), choices=Claim.Channel.choices, widget=forms.RadioSelect
    )
    first_reported_at = MomentField(
        label=_("First reported"), help_text=_("The earliest call, mail or visit counts, not this form.")
    )
    defects = forms.MultipleChoiceField(
        label=_("Defects on record"), required=False, widget=forms.CheckboxSelectMultiple
    )
    place = forms.ChoiceField(
        label=_("Another place"), required=False, help_text=_("May stay open and be matched later.")
    )
    words = text(_("In the holder's words"), rows=3)
    wanted = forms.CharField(label=_("What is asked for"), required=False, max_length=160)
    is_safety = YesNoNotRecorded(label=_("A danger: loose near a lamp, a sensor, a window?"), required=False)
    uid = forms.UUIDField(widget=forms.HiddenInput, required=False)

    def __init__(self, *args: Any, vehicle: Vehicle, catalogue: ShopCatalogue, **more: Any) -> None:
        super().__init__(*args, **more)
        self.vehicle = vehicle
        rows = Defect.objects.filter(**{f"place__{PLACE_OF}": vehicle}).exclude(at_handover=True)
        self.known = {str(row.pk): row for row in rows.select_related(f"place__{PLACE_OF}")}
        defects, place = self.fields["defects"], self.fields["place"]
        assert isinstance(defects, forms.MultipleChoiceField)
        assert isinstance(place, forms.ChoiceField)
        defects.choices = [
            (key, f"{row.number}, {row.kind_said}: {place_words(row.place, catalogue)}")
            for key, row in self.known.items()
        ]
        place.choices = [("", _now("Not known yet")), *places_by_panel(vehicle, catalogue)]
        if not self.known:
            del self.fields["defects"]

    def clean(self) -> dict[str, Any]:
        said: dict[str, Any] = super().clean() or self.cleaned_data
        if not self.errors and not (said.get("defects") or said.get("place") or said["words"].strip()):
            self.add_error("words", _now("Choose a defect or a place, or write what was reported."))
        return said

    def reported(self) -> list[Reported]:
        """Each defect by itself; the words go with the place, or stand alone."""
        said = self.cleaned_data
        found = [Reported("", defect=self.known[key]) for key in said.get("defects", ())]
        if said["place"]:
            place = Place.objects.select_related(PLACE_OF).get(pk=said["place"])
            found.append(Reported(said["words"], place=place))
        elif not found:
            found.append(Reported(said["words"]))
        return found


class AssessForm(forms.Form):
    is_safety = YesNoNotRecorded(label=_("A danger to anybody"), required=False)
    is_spreading = YesNoNotRecorded(label=_("Spreading"), required=False)
    note = text(_("Note"))


class HowForm(forms.Form):
    how = text(_("How it was acknowledged"), required=True, help_text=_("There is no address to write to."))


class FirstReportForm(forms.Form):
    at = MomentField(label=_("First reported"))
    why = text(_("How that is known"), required=True)


class MatchForm(forms.Form):
    """A defect brings its place; film that is not ours has none."""

    defect = forms.ChoiceField(label=_("Defect on record"), required=False)
    place = forms.ChoiceField(label=_("Place"), required=False)
    not_ours = forms.BooleanField(label=_("Looked at: the film there is not ours"), required=False)

    def __init__(self, *args: Any, vehicle: Vehicle, catalogue: ShopCatalogue, **more: Any) -> None:
        super().__init__(*args, **more)
        rows = Defect.objects.filter(**{f"place__{PLACE_OF}": vehicle})
        self.known = {str(row.pk): row for row in rows.select_related(f"place__{PLACE_OF}")}
        defect, place = self.fields["defect"], self.fields["place"]
        assert isinstance(defect, forms.ChoiceField)
        assert isinstance(place, forms.ChoiceField)
        named = [
            (key, f"{row.number}, {row.kind_said}: {place_words(row.place, catalogue)}")
            for key, row in self.known.items()
        ]
        defect.choices = [("", _now("None, or not known")), *named]
        place.choices = [("", _now("Not known yet")), *places_by_panel(vehicle, catalogue)]

    def clean(self) -> dict[str, Any]:
        said: dict[str, Any] = super().clean() or self.cleaned_data
        if said.get("not_ours") and (said.get("defect") or said.get("place")):
            self.add_error("not_ours", _now("It is either a place of ours or film of somebody else."))
        return said


class FactForm(forms.Form):
    """A fact for one exclusion, and where it can be seen."""

    clause = forms.ChoiceField(label=_("Which words of the certificate"), widget=forms.RadioSelect)
    words = text(_("What is so"), required=True, help_text=_("A fact that somebody can check, no opinion."))
    seen_where = forms.CharField(
        label=_("Where it can be seen"),
        max_length=200,
        help_text=_("A photo, a finding, a receipt, who saw it when."),
    )

    def __init__(self, *args: Any, clauses: tuple[str, ...], **more: Any) -> None:
        super().__init__(*args, **more)
        field = self.fields["clause"]
        assert isinstance(field, forms.ChoiceField)
        field.choices = [(words, words) for words in clauses]


class DecideForm(forms.Form):
    """One defect. A refusal can only be chosen where there is a ground for it."""

    answer = forms.ChoiceField(label=_("Decision"), widget=forms.RadioSelect)
    line = forms.ChoiceField(label=_("Under which promise"), required=False, widget=forms.RadioSelect)
    ground = forms.ChoiceField(label=_("On which ground"), required=False, widget=forms.RadioSelect)
    reason = text(
        _("In plain words"), rows=4, required=True, help_text=_("Stands in the letter as it is written here.")
    )

    def __init__(self, *args: Any, case: ItemCase, **more: Any) -> None:
        super().__init__(*args, **more)
        answer, line, ground = (self.fields[name] for name in ("answer", "line", "ground"))
        assert isinstance(answer, forms.ChoiceField)
        assert isinstance(line, forms.ChoiceField)
        assert isinstance(ground, forms.ChoiceField)
        covering = case.promise.covering
        possible = {Answer.GOODWILL} | ({Answer.ACCEPT, Answer.PART} if covering else set())
        possible |= {Answer.REFUSE} if case.grounds else set()
        answer.choices = [
            (value, first_upper(str(label))) for value, label in Answer.choices if value in possible
        ]
        line.choices = [(str(each.line_id), each.title) for each in covering]
        ground.choices = [(each.key, f"{each.clause} — {each.fact}") for each in case.grounds]
        if len(covering) == 1:
            self.initial.setdefault("line", str(covering[0].line_id))
        for name, choices in (("line", covering), ("ground", case.grounds)):
            if not choices:
                del self.fields[name]

    def clean(self) -> dict[str, Any]:
        said: dict[str, Any] = super().clean() or self.cleaned_data
        if said.get("answer") == Answer.REFUSE and not said.get("ground"):
            self.add_error("ground", _now("A refusal names clause and fact."))
        if said.get("answer") in (Answer.ACCEPT, Answer.PART) and not said.get("line"):
            self.add_error("line", _now("Name the promise."))
        return said


class NoteForm(forms.Form):
    note = text(_("What was done, where no defect is on record"))


class HolderSaidForm(forms.Form):
    holder_said = text(
        _("What the holder says to it"), help_text=_("Asked by telephone, mail, or at the visit.")
    )


class ReopenForm(forms.Form):
    why = text(_("Why it is opened again"), required=True)
