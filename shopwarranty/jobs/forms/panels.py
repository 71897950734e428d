"""Forms of one panel beside its technique: how it came, who worked on it, what happened, when it was done."""

from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from shopwarranty.shops.models import Member
from shopwarranty.trade.words import DEVIATION_REASONS, LAYING_EVENTS, REMOVED_PARTS, SUBSTRATES
from shopwarranty.web.fields import DayField, MomentField
from shopwarranty.web.trade_names import first_upper

from ..record_parts import PanelRecord

# "Part of a trial" is offered by the trial itself, never picked by hand.
QUICK_REASONS = tuple(each for each in DEVIATION_REASONS if each.key != "trial")


def upper(choices: Any) -> list[tuple[str, str]]:
    return [(each.key, first_upper(_(each.words))) for each in choices]


class IntakeForm(forms.Form):
    substrate = forms.ChoiceField(
        label=gettext_lazy("Film goes on"), widget=forms.RadioSelect, required=False
    )
    painted_on = DayField(
        label=gettext_lazy("Painted on"),
        required=False,
        help_text=gettext_lazy("For a repaint. Its maker says how long paint cures before film."),
    )
    marks = forms.CharField(
        label=gettext_lazy("Old marks"),
        required=False,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text=gettext_lazy("Chips, scratches, dents, with place and size. Photos go with them."),
    )
    acknowledged_by = forms.CharField(
        label=gettext_lazy("Shown to"),
        max_length=160,
        required=False,
        help_text=gettext_lazy("Name of the person who was shown the marks and agreed."),
    )
    why = forms.CharField(label=gettext_lazy("Why it changes"), max_length=160, required=False)

    def __init__(self, *args: Any, corrects: bool = False, **more: Any) -> None:
        super().__init__(*args, **more)
        choices = [*upper(SUBSTRATES), ("", _("Not recorded"))]
        self.fields["substrate"].choices = choices  # type: ignore[attr-defined]
        if not corrects:
            del self.fields["why"]
        else:
            self.fields["why"].required = True


class MembersForm(forms.Form):
    lead = forms.ModelChoiceField(
        Member.objects.none(),
        label=gettext_lazy("Led by"),
        required=False,
        empty_label=gettext_lazy("Not recorded"),
    )
    others = forms.ModelMultipleChoiceField(
        Member.objects.none(),
        label=gettext_lazy("Helped"),
        required=False,
        widget=forms.CheckboxSelectMultiple,
    )

    def __init__(self, *args: Any, panel: PanelRecord, **more: Any) -> None:
        super().__init__(*args, **more)
        there = [member.id for member in panel.members]
        at_work = Member.objects.filter(left_at__isnull=True, is_installer=True)
        rows = (at_work | Member.objects.filter(pk__in=there)).distinct()
        for name in ("lead", "others"):
            self.fields[name].queryset = rows  # type: ignore[attr-defined]
        lead = panel.lead
        self.initial.setdefault("lead", lead.id if lead else None)
        self.initial.setdefault("others", [one.id for one in panel.members if not one.is_lead])


class EventForm(forms.Form):
    kind = forms.ChoiceField(label=gettext_lazy("What happened"), widget=forms.RadioSelect)
    place = forms.ChoiceField(label=gettext_lazy("Where"), required=False)
    note = forms.CharField(label=gettext_lazy("Note"), max_length=160, required=False)

    def __init__(self, *args: Any, panel: PanelRecord, **more: Any) -> None:
        super().__init__(*args, **more)
        self.fields["kind"].choices = upper(LAYING_EVENTS)  # type: ignore[attr-defined]
        places = [(str(place.id), first_upper(place.name)) for place in panel.places]
        self.fields["place"].choices = [("", _("The whole panel")), *places]  # type: ignore[attr-defined]


class RemovedItemForm(forms.Form):
    name = forms.CharField(label=gettext_lazy("What came off"), max_length=80)
    note = forms.CharField(label=gettext_lazy("Note"), max_length=160, required=False)


class SettleForm(forms.Form):
    outcome = forms.ChoiceField(
        choices=[("", ""), *((each.key, each.words) for each in REMOVED_PARTS)], required=False
    )


class FinishForm(forms.Form):
    finished_at = MomentField(
        label=gettext_lazy("Finished"),
        help_text=gettext_lazy("When the last edge of the panel was done. Its days are counted from then."),
    )


class ReasonForm(forms.Form):
    reason = forms.CharField(label=gettext_lazy("Why"), max_length=160)
