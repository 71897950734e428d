"""What the form templates ask of a field."""

import math

from django import forms, template
from django.forms import BoundField
from django.utils.safestring import SafeString

register = template.Library()


@register.filter
def field_kind(field: BoundField) -> str:
    """pick (pieces to press), parts (several inputs), tick, step (a number) or plain."""
    widget = field.field.widget
    if isinstance(widget, forms.RadioSelect | forms.CheckboxSelectMultiple):
        return "pick"
    if widget.use_fieldset:
        return "parts"
    if isinstance(widget, forms.CheckboxInput):
        return "tick"
    return "step" if isinstance(widget, forms.NumberInput) else "plain"


@register.filter
def first_id(field: BoundField) -> str:
    """Where a link to the field leads: its input, or the first piece of a group."""
    if field_kind(field) == "pick" and (pieces := list(field)):
        return pieces[0].id_for_label or field.auto_id
    return field.id_for_label or field.auto_id


@register.filter
def says_optional(field: BoundField) -> bool:
    """A field that may stay empty says so, unless one of its pieces already does."""
    if field.field.required or field.field.disabled or field_kind(field) == "tick":
        return False
    choices = getattr(field.field, "choices", ())
    return not (field_kind(field) == "pick" and any(value in ("", None) for value, _label in choices))


@register.filter
def named_parts(field: BoundField) -> SafeString:
    """Several inputs of one field, each named by the group's legend."""
    return field.as_widget(attrs={"aria-labelledby": f"{field.auto_id}_legend"})


@register.filter
def number_input(field: BoundField) -> SafeString:
    """A native number field; one would blank typed words that are no number, so those get a text field."""
    typed = field.value()
    if typed in (None, "") or is_number(str(typed)):
        return field.as_widget()
    return field.as_widget(forms.TextInput(attrs={**field.field.widget.attrs, "inputmode": "decimal"}))


def is_number(text: str) -> bool:
    try:
        return math.isfinite(float(text))
    except ValueError:
        return False
