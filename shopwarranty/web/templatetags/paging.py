"""Paging that keeps the filters of the address."""

from collections.abc import Iterable

from django import template
from django.core.paginator import Page
from django.template import Context

register = template.Library()


@register.simple_tag(takes_context=True)
def page_link(context: Context, number: int, name: str = "page") -> str:
    """The same address with another page number; every filter stays."""
    query = context["request"].GET.copy()
    query[name] = str(number)
    return f"?{query.urlencode()}"


@register.filter
def page_numbers(page: "Page[object]") -> Iterable[int | str]:
    """First, last and the neighbours; gaps come as a word, not a number."""
    return page.paginator.get_elided_page_range(page.number, on_each_side=1, on_ends=1)
