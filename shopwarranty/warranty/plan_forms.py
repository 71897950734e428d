"""A plan version as it is typed: words, lists with one sentence a line, and cover lines."""

from collections.abc import Iterator
from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from shopwarranty.trade.defects import KINDS
from shopwarranty.trade.words import FILM_FAMILIES

from .cover import TermProblem, parse_term
from .models import CoverLine, PlanVersion
from .promises import term_of

LISTS = ("exclusions", "duties", "aftercare", "claim_steps")


class SentencesField(forms.CharField):
    """A list of sentences, one a line."""

    def __init__(self, **more: Any) -> None:
        super().__init__(widget=forms.Textarea(attrs={"rows": 4}), **more)

    def prepare_value(self, value: Any) -> Any:
        return "\n".join(value) if isinstance(value, list | tuple) else value

    def to_python(self, value: Any) -> Any:
        return [" ".join(line.split()) for line in str(value or "").splitlines() if line.strip()]

    def validate(self, value: Any) -> None:
        if self.required and not value:
            raise forms.ValidationError(self.error_messages["required"], code="required")

    def run_validators(self, value: Any) -> None:
        """Limits are for the whole text, which the model does not set."""


def words(label: Any, *, rows: int = 2, required: bool = False, help_text: Any = "") -> forms.CharField:
    return forms.CharField(
        label=label, required=required, help_text=help_text, widget=forms.Textarea(attrs={"rows": rows})
    )


class PlanForm(forms.Form):
    language = forms.CharField(
        label=gettext_lazy("Language of the text"), max_length=8, help_text=gettext_lazy("en, de, es ...")
    )
    exclusions = SentencesField(
        label=gettext_lazy("What is not covered"),
        help_text=gettext_lazy("One sentence a line. Say “damage caused by ...”."),
    )
    paid = words(gettext_lazy("What is paid"), required=True)
    not_paid = words(gettext_lazy("What is not paid"), required=True)
    claim_steps = SentencesField(
        label=gettext_lazy("How to claim, step by step"), help_text=gettext_lazy("One step a line.")
    )
    claim_expense_words = words(
        gettext_lazy("Who bears the expense of claiming"),
        help_text=gettext_lazy("Needed in Australia: how the holder gets it back, if you bear it."),
    )
    aftercare = SentencesField(label=gettext_lazy("Looking after it"), required=False)
    duties = SentencesField(
        label=gettext_lazy("What is asked of the holder"),
        required=False,
        help_text=gettext_lazy("Only what excludes damage it caused. A check is an offer, not a duty."),
    )
    transfer = forms.ChoiceField(
        label=gettext_lazy("Who is covered"), choices=PlanVersion.Transfer.choices, widget=forms.RadioSelect
    )
    transfer_words = words(
        gettext_lazy("Who is covered, in your words"),
        help_text=gettext_lazy("Empty: a plain sentence of ours."),
    )
    relaid = forms.ChoiceField(
        label=gettext_lazy("How long film laid anew under the warranty is covered"),
        choices=PlanVersion.Relaid.choices,
        widget=forms.RadioSelect,
        initial=PlanVersion.Relaid.ORIGINAL_END,
        required=False,
    )
    territory = forms.CharField(
        label=gettext_lazy("Where it holds"),
        max_length=160,
        required=False,
        help_text=gettext_lazy("Needed in the European Union and the United Kingdom."),
    )
    is_full = forms.BooleanField(
        label=gettext_lazy("A full warranty (United States): one term for all, no limits, every later owner"),
        required=False,
    )
    limits_implied = forms.BooleanField(
        label=gettext_lazy("It limits how long implied warranties last (United States)"), required=False
    )
    limits_implied_words = words(gettext_lazy("That limit"))
    excludes_consequential = forms.BooleanField(
        label=gettext_lazy("It excludes incidental or consequential damages"), required=False
    )
    excludes_consequential_words = words(gettext_lazy("That exclusion"))

    def clean_relaid(self) -> str:
        return self.cleaned_data["relaid"] or PlanVersion.Relaid.ORIGINAL_END

    @classmethod
    def initial_of(cls, version: PlanVersion) -> dict[str, Any]:
        return {name: getattr(version, name) for name in cls.base_fields}


class LineForm(forms.Form):
    title = forms.CharField(label=gettext_lazy("If this happens"), max_length=160)
    term = forms.CharField(
        label=gettext_lazy("How long"), max_length=40, help_text=gettext_lazy("5 years, 18 months, 14 days")
    )
    warrantor = forms.ChoiceField(
        label=gettext_lazy("Who stands behind it"),
        choices=CoverLine.Warrantor.choices,
        widget=forms.RadioSelect,
    )
    remedy = words(gettext_lazy("What is done"), required=True)
    defect_kinds = forms.MultipleChoiceField(
        label=gettext_lazy("Kinds of defect"), required=False, widget=forms.CheckboxSelectMultiple
    )
    surface = forms.ChoiceField(
        label=gettext_lazy("On which panels"), choices=CoverLine.Surface.choices, initial="all"
    )
    family = forms.ChoiceField(label=gettext_lazy("On which film"), required=False)

    def __init__(self, *args: Any, **more: Any) -> None:
        super().__init__(*args, **more)
        kinds: Any = self.fields["defect_kinds"]
        kinds.choices = [(kind.key, _(kind.name)) for kind in KINDS if kind.counts == "failure"]
        family: Any = self.fields["family"]
        family.choices = [("", _("any film")), *((each.key, _(each.words)) for each in FILM_FAMILIES)]

    def clean_term(self) -> Any:
        try:
            return parse_term(self.cleaned_data["term"])
        except TermProblem as problem:
            raise forms.ValidationError(problem.sentence.render(_)) from problem

    def values(self) -> dict[str, Any]:
        given = dict(self.cleaned_data)
        given.pop("DELETE", None)
        given.pop("ORDER", None)
        term = given.pop("term")
        return {**given, "years": term.years, "months": term.months, "days": term.days}


class Lines(forms.BaseFormSet):  # type: ignore[type-arg]
    def values(self) -> list[dict[str, Any]]:
        """Filled and kept lines, in order."""
        return [form.values() for form in self.filled()]

    def filled(self) -> Iterator[Any]:
        for form in self.forms:
            if form.is_valid() and form.cleaned_data.get("title") and form not in self.deleted_forms:
                yield form


LineFormSet = forms.formset_factory(LineForm, formset=Lines, extra=1, max_num=20, can_delete=True)


def initial_lines(version: PlanVersion) -> list[dict[str, Any]]:
    return [
        {
            "title": line.title,
            "term": term_of(line).words(ngettext),
            "warrantor": line.warrantor,
            "remedy": line.remedy,
            "defect_kinds": line.defect_kinds,
            "surface": line.surface,
            "family": line.family,
        }
        for line in version.lines.all()
    ]
