"""What a level of a technique is called in a sentence, and what to do about one that goes with failures."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from django.utils.functional import Promise
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from .words import Words

SUBJECTS: Final[Mapping[tuple[str, str], str | Promise]] = {
    ("post_heated", "no"): _("places left without post-heat"),
    ("post_heated", "yes"): _("post-heated places"),
    ("washed", "no"): _("places on panels not washed first"),
    ("solvent_wiped", "no"): _("places on panels not wiped with solvent"),
    ("blown_off", "no"): _("places on panels whose gaps were not blown off"),
    ("static_step", "no"): _("places on panels that kept their static"),
    ("blade_fresh", "no"): _("places cut with a used blade"),
    ("cut_on_panel", "yes"): _("places cut on the panel"),
    ("cut_on_panel", "no"): _("places cut before laying"),
    ("primer", "yes"): _("places with primer"),
    ("primer", "no"): _("places without primer"),
    ("left_short", "yes"): _("places left short on purpose"),
    ("decontaminated", "no"): _("places on vehicles not decontaminated"),
    ("laid", "dry"): _("places laid dry"),
    ("laid", "wet"): _("places laid wet"),
    ("hardware", "removed"): _("places on panels with their hardware taken off"),
    ("hardware", "loosened"): _("places on panels with loosened hardware"),
    ("hardware", "trimmed"): _("places trimmed round their hardware"),
    ("dew_margin", "too little"): _("places laid too close to the dew point"),
}
AGAIN: Final[Mapping[tuple[str, str], str | Promise]] = {
    ("post_heated", "no"): _("Post-heat every edge and recess again."),
    ("washed", "no"): _("Wash every panel first again."),
    ("solvent_wiped", "no"): _("Wipe every panel with solvent again."),
    ("blown_off", "no"): _("Blow the gaps off again before laying."),
    ("static_step", "no"): _("Take the static off again before laying."),
    ("blade_fresh", "no"): _("Take a fresh blade again for every panel."),
    ("decontaminated", "no"): _("Decontaminate every vehicle again."),
    ("dew_margin", "too little"): _("Warm the panel until it stays clear of the dew point."),
}


def subject(words: Words, factor: str, level: str) -> str:
    """Places left without post-heat; where there is no own phrase: places with "squeegee: hard"."""
    if (factor, level) in SUBJECTS:
        return str(SUBJECTS[factor, level])
    if factor == "surface_c":
        return gettext("panels laid with a surface of %(range)s") % {"range": words.level(factor, level)}
    if factor == "humidity":
        return gettext("panels laid at a humidity of %(range)s") % {"range": words.level(factor, level)}
    if factor == "film":
        return gettext("places in %(film)s") % {"film": level}
    return gettext("places with “%(what)s”") % {"what": words.with_level(factor, level)}


def do_again(words: Words, factor: str, level: str, reference: str) -> str:
    """What to do on Monday about a level that goes with more failures than its reference."""
    if (factor, level) in AGAIN:
        return str(AGAIN[factor, level])
    usual = words.with_level(factor, reference)
    return gettext("Go back to “%(usual)s” wherever you can.") % {"usual": usual}
