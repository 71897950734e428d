"""Sentences of the pure modules, translated where they are shown."""

from django import template
from django.utils.translation import gettext

from shopwarranty.warranty.sentence import Sentence

register = template.Library()


@register.filter
def sentence(said: Sentence | None) -> str:
    return said.render(gettext) if said else ""
