"""Which rules a certificate is written under; profile and version are frozen into each certificate."""

from dataclasses import dataclass
from enum import StrEnum
from typing import Final

PROFILE_VERSION: Final = "2026-11"
"""Changes with any required text or check; certificates keep the version they were issued with."""

# Official languages of the member states; from memory, so a language outside only warns.
_LANGUAGES_OF_STATE: Final = {
    "AT": "de", "BE": "nl fr de", "BG": "bg", "CY": "el", "CZ": "cs", "DE": "de", "DK": "da", "EE": "et",
    "ES": "es", "FI": "fi sv", "FR": "fr", "GR": "el", "HR": "hr", "HU": "hu", "IE": "en ga", "IT": "it",
    "LT": "lt", "LU": "fr de lb", "LV": "lv", "MT": "mt en", "NL": "nl", "PL": "pl", "PT": "pt", "RO": "ro",
    "SE": "sv", "SI": "sl", "SK": "sk",
}  # fmt: skip


class Family(StrEnum):
    US = "us"
    EU = "eu"
    UK = "uk"
    AU = "au"
    OTHER = "other"


@dataclass(frozen=True, slots=True)
class LegalProfile:
    """A family of rules and, in the EU, the member state whose language rule applies ("" = not recorded)."""

    family: Family
    country: str = ""
    version: str = PROFILE_VERSION

    @property
    def code(self) -> str:
        return f"{self.family}-{self.country.lower()}" if self.country else str(self.family)

    @property
    def languages(self) -> tuple[str, ...]:
        """Languages a certificate may be written in; empty when the rules name none."""
        if self.family is Family.EU:
            return tuple(_LANGUAGES_OF_STATE.get(self.country, "").split())
        return ("en",) if self.family in (Family.UK, Family.AU) else ()


def profile_of(code: str, *, country: str = "") -> LegalProfile:
    """The profile named by "us", "eu", "eu-de", "uk", "au" or "other"; ValueError otherwise.

    `country` (ISO 3166-1, two letters) is used for the EU only.
    """
    family, _, state = code.lower().partition("-")
    chosen = Family(family)
    if chosen is not Family.EU:
        return LegalProfile(chosen)
    state = (state or country).upper()
    return LegalProfile(chosen, "GR" if state == "EL" else state)
