"""Opening a job, choosing its method and panels, and what concerns the job as a whole."""

from typing import Any
from uuid import uuid4

from django import forms
from django.db.models import F, OuterRef, Subquery
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from shopwarranty.shops.models import Bay
from shopwarranty.trade.words import SAFETY_ANSWERS
from shopwarranty.web.fields import DayField, MomentField
from shopwarranty.web.seen import AsSeen
from shopwarranty.web.trade_names import first_upper

from ..models import Job, Method, MethodVersion
from .film import FilmForm

NONE_FITS = "none"


def method_versions() -> list[MethodVersion]:
    """The newest version of every method on offer, the one used last first."""
    newest = MethodVersion.objects.filter(method=OuterRef("pk")).order_by("-number").values("pk")[:1]
    on_offer = Method.objects.filter(retired_at__isnull=True).annotate(newest=Subquery(newest))
    used = Job.objects.filter(method_version__method=OuterRef("method")).order_by("-pk").values("pk")[:1]
    rows = MethodVersion.objects.filter(pk__in=on_offer.values("newest")).select_related("method")
    return list(
        rows.annotate(last_job=Subquery(used)).order_by(F("last_job").desc(nulls_last=True), "method__name")
    )


class MethodForm(forms.Form):
    method = forms.ChoiceField(label=gettext_lazy("Method"), widget=forms.RadioSelect)
    no_method_reason = forms.CharField(
        label=gettext_lazy("Why none fits"),
        max_length=160,
        required=False,
        help_text=gettext_lazy("Then everything is recorded place by place, and nothing is filled in."),
    )

    def __init__(self, *args: Any, **more: Any) -> None:
        super().__init__(*args, **more)
        self.versions = {str(version.pk): version for version in method_versions()}
        chosen: Any = self.fields["method"]
        offered = [
            (key, _("%(method)s, version %(n)s") % {"method": one.method.name, "n": one.number})
            for key, one in self.versions.items()
        ]
        chosen.choices = [*offered, (NONE_FITS, _("No method fits"))]
        self.initial.setdefault("method", next(iter(self.versions), NONE_FITS))

    def clean(self) -> dict[str, Any]:
        values = super().clean() or {}
        if values.get("method") == NONE_FITS and not values.get("no_method_reason"):
            self.add_error("no_method_reason", _("Say in a few words why no method fits."))
        return values

    def version(self) -> MethodVersion | None:
        return self.versions.get(self.cleaned_data["method"])


class StartJobForm(MethodForm, FilmForm):
    """Method, film and panels of a new job."""

    started_at = MomentField(
        label=gettext_lazy("Work began"),
        required=False,
        help_text=gettext_lazy("Empty: now. An earlier time marks a job typed in later."),
    )
    uid = forms.UUIDField(widget=forms.HiddenInput, required=False)
    field_order = ["method", "no_method_reason", "roll"]

    def __init__(self, *args: Any, **more: Any) -> None:
        super().__init__(*args, **more)
        self.initial.setdefault("uid", uuid4())  # pressed twice, the job is opened once
        if self.rolls:
            self.initial.setdefault("roll", next(iter(self.rolls)))


class PanelsForm(forms.Form):
    """Which panels get film. `taken` are part of the job already."""

    panels = forms.MultipleChoiceField(label=gettext_lazy("Panels"), widget=forms.CheckboxSelectMultiple)

    def __init__(self, *args: Any, choices: list[tuple[str, str]], **more: Any) -> None:
        super().__init__(*args, **more)
        self.fields["panels"].choices = choices  # type: ignore[attr-defined]
        self.fields["panels"].error_messages["required"] = _("Choose at least one panel.")


class JobDetailsForm(AsSeen):
    """Dates, bay and notes of the job, and what was said about safety. Nothing here blocks."""

    started_at = MomentField(label=gettext_lazy("Work began"))
    planned_handover_on = DayField(label=gettext_lazy("Handover planned for"), required=False)
    bay = forms.ModelChoiceField(
        Bay.objects.none(),
        label=gettext_lazy("Bay"),
        required=False,
        empty_label=gettext_lazy("Not recorded"),
    )
    quoted_months = forms.IntegerField(
        label=gettext_lazy("Warranty told to the customer, months"),
        required=False,
        min_value=0,
        max_value=1200,
        help_text=gettext_lazy(
            "If a term was quoted or advertised, so that the certificate can be held against it."
        ),
    )
    makers_procedure = forms.ChoiceField(
        label=gettext_lazy("Maker's procedure followed"), required=False, widget=forms.RadioSelect
    )
    sensors_clear = forms.ChoiceField(
        label=gettext_lazy("Sensors and cameras kept clear"), required=False, widget=forms.RadioSelect
    )
    blades_returned = forms.ChoiceField(
        label=gettext_lazy("All blades returned"), required=False, widget=forms.RadioSelect
    )
    note = forms.CharField(
        label=gettext_lazy("Note"), required=False, widget=forms.Textarea(attrs={"rows": 3})
    )
    why = forms.CharField(label=gettext_lazy("Why it changes"), max_length=160, required=False)
    SAFETY = ("makers_procedure", "sensors_clear", "blades_returned")
    VALUES = ("started_at", "planned_handover_on", "bay", "quoted_months", "note")

    def __init__(self, *args: Any, corrects: bool = False, **more: Any) -> None:
        super().__init__(*args, **more)
        self.fields["bay"].queryset = Bay.objects.filter(retired_at__isnull=True)  # type: ignore[attr-defined]
        answers = [(each.key, first_upper(_(each.words))) for each in SAFETY_ANSWERS]
        for name in self.SAFETY:
            self.fields[name].choices = [*answers, ("", _("Not recorded"))]  # type: ignore[attr-defined]
        if corrects:
            self.fields["why"].required = True
        else:
            del self.fields["why"]
