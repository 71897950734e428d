"""Public holidays by country and region. The calendar of each is the `holidays` library's."""

from datetime import date
from functools import lru_cache
from typing import Final

import holidays
from holidays.registry import COUNTRIES

CODES: Final = {entry[1]: entry[0] for entry in COUNTRIES.values()}


def countries() -> list[tuple[str, str]]:
    """Codes of ISO 3166-1 and names, in order of name."""
    known = holidays.list_supported_countries(include_aliases=False)
    return sorted(((code, _spaced(CODES.get(code, code))) for code in known), key=lambda each: each[1])


def regions(country: str) -> list[tuple[str, str]]:
    """Regions of a country that have holidays of their own, with the name where the library knows one."""
    known = holidays.list_supported_countries(include_aliases=False).get(country, [])
    names = _names(country) if known else {}
    return sorted(((code, names.get(code, code)) for code in known), key=lambda each: each[1])


def _names(country: str) -> dict[str, str]:
    aliases = getattr(type(holidays.country_holidays(country)), "subdivisions_aliases", {})
    return {code: name for name, code in aliases.items()}


def _spaced(name: str) -> str:
    """UnitedStates as United States."""
    return "".join(f" {letter}" if letter.isupper() and n else letter for n, letter in enumerate(name))


@lru_cache(maxsize=256)
def holidays_of(country: str, region: str, year: int, language: str = "en") -> dict[date, str]:
    """The year's public holidays, those moved to a weekday included. None for an unknown country or region.

    Names come in the language where the library has it, else in the country's own.
    """
    if not country:
        return {}
    try:
        plain = holidays.country_holidays(country, subdiv=region or None, years=year)
        wanted = next((each for each in plain.supported_languages if each.startswith(language)), None)
        if wanted:
            plain = holidays.country_holidays(country, subdiv=region or None, years=year, language=wanted)
    except NotImplementedError:
        return {}
    return {day: name for day, name in plain.items() if day.year == year}
