"""What is written to holders, as an owner says it."""

from typing import Any

from django import forms
from django.conf import settings
from django.utils.dates import WEEKDAYS
from django.utils.text import capfirst
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from shopwarranty.outbox.channels import TEXT, has_channel
from shopwarranty.web.fields import ClockField
from shopwarranty.web.seen import AsSeen

from .models import CheckRules
from .writing.fill import unknown_in
from .writing.kinds import KINDS, Kind


class WritingForm(AsSeen, forms.Form):
    """Which messages go, and when."""

    on = forms.MultipleChoiceField(
        label=gettext_lazy("What is written"), required=False, widget=forms.CheckboxSelectMultiple
    )
    offers_at_most = forms.IntegerField(
        label=gettext_lazy("How often somebody who did not come is asked again"),
        min_value=0,
        max_value=9,
        widget=forms.NumberInput(attrs={"step": 1}),
        help_text=gettext_lazy("After that nobody writes or calls about that check. Cover is not touched."),
    )
    send_from = ClockField(label=gettext_lazy("Nothing goes out before"))
    send_until = ClockField(label=gettext_lazy("nor from this time on"))
    send_weekdays = forms.MultipleChoiceField(
        label=gettext_lazy("On which days"), widget=forms.CheckboxSelectMultiple
    )
    send_on_closed_days = forms.BooleanField(
        label=gettext_lazy("Also on days when the shop is closed"), required=False
    )
    text_without_mail = forms.BooleanField(
        label=gettext_lazy("Text messages to holders without a mail address that works"),
        required=False,
        help_text=gettext_lazy("Ask holders first: many places want their consent."),
    )

    def __init__(self, typed: Any = None, *, rules: CheckRules) -> None:
        may_be_off = [kind for kind in KINDS if not kind.must_go]
        names = (
            "offers_at_most",
            "send_from",
            "send_until",
            "send_on_closed_days",
            "text_without_mail",
        )
        stands = {name: getattr(rules, name) for name in names}
        on = [kind.key for kind in may_be_off if kind.key not in rules.silent]
        super().__init__(typed, initial=stands | {"on": on, "send_weekdays": list(rules.send_weekdays)})
        days = [(str(n), capfirst(WEEKDAYS[n])) for n in range(7)]
        self.fields["on"].choices = [(kind.key, kind.name) for kind in may_be_off]  # type: ignore[attr-defined]
        self.fields["send_weekdays"].choices = days  # type: ignore[attr-defined]
        if not has_channel(TEXT):
            del self.fields["text_without_mail"]

    def clean(self) -> dict[str, Any]:
        values: dict[str, Any] = super().clean() or self.cleaned_data
        begins, ends = values.get("send_from"), values.get("send_until")
        if begins and ends and ends <= begins:
            self.add_error("send_until", _("This comes after the time before which nothing goes out."))
        return values

    def values(self) -> dict[str, Any]:
        typed = dict(self.cleaned_data)
        on = typed.pop("on")
        typed["silent"] = [kind.key for kind in KINDS if not kind.must_go and kind.key not in on]
        typed["send_weekdays"] = "".join(sorted(typed["send_weekdays"]))
        return typed


class WordingForm(forms.Form):
    """Subject and text of one kind in one language."""

    subject = forms.CharField(label=gettext_lazy("Subject"), max_length=160)
    text = forms.CharField(
        label=gettext_lazy("Text"), max_length=6000, widget=forms.Textarea(attrs={"rows": 14})
    )

    def __init__(self, typed: Any = None, *, kind: Kind, **more: Any) -> None:
        super().__init__(typed, **more)
        self.kind = kind

    def clean_subject(self) -> str:
        return self.known(" ".join(self.cleaned_data["subject"].split()))

    def clean_text(self) -> str:
        return self.known(self.cleaned_data["text"].replace("\r\n", "\n").strip())

    def known(self, text: str) -> str:
        if unknown := unknown_in(text, self.kind.known):
            words = _("Nothing is known to put in for %(words)s. Take one of the words below.")
            raise forms.ValidationError(words % {"words": ", ".join(f"{{{word}}}" for word in unknown)})
        return text


def languages() -> dict[str, str]:
    return dict(settings.LANGUAGES)
