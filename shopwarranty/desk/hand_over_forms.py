"""What is answered on the handover page: reasons, the plan, and how the holder gets the certificate."""

from collections.abc import Iterable, Mapping
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from shopwarranty.warranty.models import PlanVersion

from .gap import Gap

PREFIX = "reason-"


class HandOverForm(forms.Form):
    """One field for every reason asked for; none of them is filled in beforehand."""

    plan = forms.ModelChoiceField(
        label=_("Warranty plan"), queryset=PlanVersion.objects.none(), required=False
    )
    mail = forms.ChoiceField(
        label=_("The holder gets the certificate"),
        choices=[("yes", _("by mail, and on paper if wanted")), ("no", _("on paper only"))],
        widget=forms.RadioSelect,
        initial="yes",
    )

    def __init__(
        self,
        *args: Any,
        gaps: Iterable[Gap],
        plans: list[PlanVersion],
        can_mail: bool,
        is_owner: bool,
        **more: Any,
    ) -> None:
        super().__init__(*args, **more)
        self.by_pk = {version.pk: version for version in plans}
        choices = [(version.pk, f"{version.plan.name}, {version.number}") for version in plans]
        self.fields["plan"] = forms.TypedChoiceField(
            label=_("Warranty plan"), choices=choices, coerce=int, empty_value=None, required=False
        )
        if len(plans) < 2:
            del self.fields["plan"]
        if not can_mail:
            del self.fields["mail"]
        for gap in gaps:
            if gap.asks and not gap.answered and (is_owner or not gap.only_owner):
                self.fields[PREFIX + gap.key] = forms.CharField(
                    label=gap.words,
                    required=False,
                    widget=forms.Textarea(attrs={"rows": 2, "aria-label": gap.words}),
                )

    @property
    def reasons(self) -> Mapping[str, str]:
        return {
            name.removeprefix(PREFIX): value.strip()
            for name, value in self.cleaned_data.items()
            if name.startswith(PREFIX) and value.strip()
        }

    @property
    def chosen_plan(self) -> PlanVersion | None:
        return self.by_pk.get(self.cleaned_data.get("plan") or 0)

    @property
    def by_mail(self) -> bool:
        return bool(self.cleaned_data.get("mail") == "yes")

    def ask_for(self, gaps: Iterable[Gap], words: Any) -> None:
        for gap in gaps:
            field = PREFIX + gap.key
            self.add_error(field if field in self.fields else None, words)
