"""How long a promise must be provable after its last day. Pure: no clock, no database."""

from dataclasses import dataclass
from datetime import date
from typing import Final


@dataclass(frozen=True, slots=True)
class Limitation:
    """Years in which somebody may still bring a claim; counted from the day, or from the end of its year."""

    years: int
    from_year_end: bool = False

    def last_day(self, after: date) -> date:
        """The last day on which the record is needed. 29 February ends on 28 February in other years."""
        start = date(after.year, 12, 31) if self.from_year_end else after
        try:
            return start.replace(year=start.year + self.years)
        except ValueError:
            return start.replace(year=start.year + self.years, day=28)


# Where a shop says nothing else. US: four years, UCC 2-725. EU: three years from the end of the year, BGB 195
# and 199, the member states differ. UK: six years, Limitation Act 1980 section 5. AU and others: six,
# from memory. A shop sets what its own adviser says.
USUAL: Final[dict[str, Limitation]] = {
    "us": Limitation(4),
    "eu": Limitation(3, from_year_end=True),
    "uk": Limitation(6),
    "au": Limitation(6),
    "other": Limitation(6),
}
