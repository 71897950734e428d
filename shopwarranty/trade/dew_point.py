"""Dew point of the room's air, and how far the panel's surface stays above it.

Magnus form over water with the constants of Alduchov and Eskridge (1996), J Appl Meteorol 35, 601-609: within
0.02 C of the humid-air formulation from 10 to 30 C. Below 0 C this is the dew point, not the frost point.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import log

B = 17.625
C = 243.04
COLDEST, HOTTEST = -40.0, 60.0


@dataclass(frozen=True, slots=True)
class Margin:
    """`margin_c` is surface minus dew point; at or below 0 water condenses on the panel."""

    dew_point_c: float
    margin_c: float

    @property
    def condenses(self) -> bool:
        return self.margin_c <= 0

    def is_less_than(self, wanted_c: float | None) -> bool:
        """Whether the shop's own wanted margin is missed; a shop that names none is never told so."""
        return wanted_c is not None and self.margin_c < wanted_c


def dew_point_c(air_c: float, humidity: float) -> float:
    """Dew point in C from air temperature in C and relative humidity in percent.

    Raises ValueError outside -40 to 60 C, or for a humidity that is not above 0 and at most 100.
    """
    if not COLDEST <= air_c <= HOTTEST:
        raise ValueError(f"air of {air_c} C lies outside {COLDEST:g} to {HOTTEST:g} C")
    if not 0 < humidity <= 100:
        raise ValueError(f"relative humidity of {humidity} % is not above 0 and at most 100")
    gamma = log(humidity / 100) + B * air_c / (C + air_c)
    return C * gamma / (B - gamma)


def margin(surface_c: float | None, air_c: float | None, humidity: float | None) -> Margin | None:
    """How far the surface is above the dew point; None when one of the three is missing or cannot be."""
    if surface_c is None or air_c is None or humidity is None:
        return None
    try:
        dew = dew_point_c(air_c, humidity)
    except ValueError:
        return None
    return Margin(dew, surface_c - dew)
