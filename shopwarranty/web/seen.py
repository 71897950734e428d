"""Who saves a form later must not wipe out what somebody else saved while the form was open."""

import json
from typing import Any, cast

from django import forms
from django.http import QueryDict
from django.utils.functional import cached_property
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

Seen = dict[str, list[str]]
SAVED_JUST_NOW = gettext_lazy("Somebody saved this at the same moment. Save again to see what stands there.")


class AsSeen(forms.Form):
    """A form about a stored row. Give the row's values as `initial` (or `instance`) at every request.

    The page carries what its reader saw. A field the reader left alone follows the stored row; one that both
    changed is refused once, with both values. Render `seen` with the other fields.
    """

    seen = forms.CharField(widget=forms.HiddenInput, required=False)

    @cached_property
    def stands(self) -> Seen:
        return {name: self._shown(name) for name in self.fields if name != "seen"}

    def get_initial_for_field(self, field: forms.Field, field_name: str) -> Any:
        if field_name == "seen":
            return json.dumps(self.stands)
        return super().get_initial_for_field(field, field_name)

    def full_clean(self) -> None:
        clashes = self._follow() if self.is_bound else []
        super().full_clean()
        if self.is_bound:
            self.cleaned_data.pop("seen", None)
        for name, yours in clashes:
            self.add_error(name, clash_words(self._words(name, self.stands[name]), self._words(name, yours)))

    def _follow(self) -> list[tuple[str, list[str]]]:
        """Takes over what was saved meanwhile in fields left alone; gives those that both changed."""
        saw, data = seen_in(self.data.get(self.add_prefix("seen"), "")), cast("QueryDict", self.data).copy()
        clashes = []
        for name, stands in self.stands.items():
            yours = self._sent(name)
            if name not in saw or stands in (saw[name], yours):
                continue
            if yours == saw[name]:
                data.setlist(self.add_prefix(name), stands)
            else:
                clashes.append((name, yours))
        data[self.add_prefix("seen")] = json.dumps(self.stands)
        self.data = data
        return clashes

    def _shown(self, name: str) -> list[str]:
        """What a page shows of the stored value, in the form in which it comes back."""
        field = self.fields[name]
        value = field.prepare_value(self.get_initial_for_field(field, name))
        if isinstance(field.widget, forms.CheckboxInput):
            return ["on"] if value else []
        return plain(field.widget.format_value(value))

    def _sent(self, name: str) -> list[str]:
        return plain(cast("QueryDict", self.data).getlist(self.add_prefix(name)))

    def _words(self, name: str, texts: list[str]) -> str:
        choices = dict(getattr(self.fields[name].widget, "choices", ()))
        words = [str(choices.get(text, text)) for text in texts]
        return ", ".join(words) or _("nothing")


def plain(value: Any) -> list[str]:
    """Texts without what a browser changes on the way."""
    texts = value if isinstance(value, list | tuple) else [value]
    return [
        text for each in texts if each is not None and (text := "\n".join(str(each).split("\r\n")).strip())
    ]


def seen_in(text: str) -> Seen:
    """What the page said was seen; nothing where it does not say."""
    try:
        said = json.loads(text)
    except ValueError:
        return {}
    return said if isinstance(said, dict) else {}


def clash_words(stands: str, yours: str) -> str:
    words = _("Meanwhile somebody saved “%(stands)s”; you wrote “%(yours)s”. Save again to keep yours.")
    return words % {"stands": stands, "yours": yours}
