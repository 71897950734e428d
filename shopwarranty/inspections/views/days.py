from datetime import date
from typing import Any

from django.utils.dateparse import parse_date


def day_asked(request: Any) -> date | None:
    """The day named in the address; None where there is none, or no such day."""
    try:
        return parse_date(request.GET.get("from", ""))
    except ValueError:
        return None
