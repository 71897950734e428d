"""Cautions shown where work can hurt somebody: a short line on the screen, the whole behind it.

They say what to look up and whom to ask, never how to do it, and never that anything is without danger.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

# Ends every caution.
FOOT = (
    "This record is not a work instruction. Local law and codes, the vehicle maker's procedure and the "
    "data sheets of the film and of every chemical come first, and win wherever they differ from "
    "anything shown here."
)
SHORT_FOOT = (
    "This record is not a work instruction. Local law, the vehicle maker's procedure and the data "
    "sheets come first."
)
NO_PROCEDURE = "Without the vehicle maker's procedure for this part: stop, and get it first."
WHAT_WAS_DONE = "A value here says what was done, not what should be done."


class Topic(StrEnum):
    HEAT = "heat"
    SOLVENT = "solvent"
    BLADES = "blades"
    AIRBAGS = "airbags"
    SENSORS = "sensors"
    COVERED = "windows_lamps_plates"
    LIFTING = "ladders_and_lifts"
    DUST = "dust_and_fumes"


@dataclass(frozen=True, slots=True)
class Caution:
    """`short` stands on the screen, `long` behind "more"; both are followed by FOOT or SHORT_FOOT."""

    topic: Topic
    title: str
    short: str
    long: tuple[str, ...]


CAUTIONS: tuple[Caution, ...] = (
    Caution(
        Topic.HEAT,
        "Heat",
        "Heat ignites solvent vapour and harms paint, trim, glass and restraint parts.",
        (
            "Hot air, lamps and flames ignite vapour from solvents, wet cloths, spray cans and fuel.",
            "The vehicle maker says where heat may not go: airbag and belt parts, batteries and charge "
            "ports, tyres, glass, seals and sensors are among them.",
            "Instruments misread shiny and matt surfaces; the data sheets say how a value is to be measured.",
            "Overheated film gives off harmful fumes.",
            "Many places treat open flame as hot work, with rules and permits of their own.",
        ),
    ),
    Caution(
        Topic.SOLVENT,
        "Solvents",
        "Alcohol and other solvents give off vapour that ignites at room temperature and harms people.",
        (
            "Vapour is heavier than air and collects in pits, footwells and closed bays.",
            "The data sheet of each product says what ventilation, gloves, eye protection and storage "
            "it needs, and what to do on contact.",
            "Thinned alcohol is still flammable; primers and adhesive removers can be worse.",
            "Used cloths can catch fire; local fire rules say how they are kept and thrown away.",
        ),
    ),
    Caution(
        Topic.BLADES,
        "Blades",
        "Blades cut people, paint, seals, wires and airbag covers; a blade left in a vehicle is a "
        "danger to others.",
        (
            "The shop's own rules say how blades are handled, counted and thrown away.",
            "A mark in paint, glass, a seal, a lens, a wire or restraint trim is told to the owner and "
            "recorded.",
            "What lies behind a line to be cut is for the vehicle maker's procedure to say.",
        ),
    ),
    Caution(
        Topic.AIRBAGS,
        "Airbags and restraint wiring",
        "Doors, seats, pillar trim and bumpers can hold airbags, sensors and their wiring.",
        (
            "Only the vehicle maker's procedure for this make, model and year tells how they are made "
            "dead, removed and put back, and who may do it.",
            "A sensor that was dropped or struck, and a torn water shield in a door, are for the "
            "maker's procedure.",
            "Film may not run across the seam an airbag opens at.",
            "Orange cables carry high voltage: for trained people only.",
        ),
    ),
    Caution(
        Topic.SENSORS,
        "Sensors and cameras",
        "Film, trim work or a moved part can blind a radar, camera or parking sensor without any lamp "
        "coming on.",
        (
            "Only the vehicle maker says whether film may lie over a sensor's area, and which film.",
            "Removing or moving a bumper, mirror, emblem, grille or glass can call for calibration by "
            "the maker's procedure.",
            "What was left clear, what was covered and on whose word belongs in the record.",
        ),
    ),
    Caution(
        Topic.COVERED,
        "Windows, lamps, plates and labels",
        "Film on glass, lamps, plates or labels is regulated, and the rules differ from place to place.",
        (
            "Which film may lie on which window, how lamps and reflectors must shine and how a plate "
            "must be read is for the local rule to say; record who looked it up, when and where.",
            "Identification numbers and the labels the law asks for stay uncovered and in place.",
            "A change of colour may have to be told to the registration authority or the insurer.",
        ),
    ),
    Caution(
        Topic.LIFTING,
        "Ladders, platforms and lifts",
        "Falls and moving vehicles hurt; wet floors are slippery, and power tools stand on them.",
        (
            "The makers of ladder, platform and lift say what they bear and how they are set up; the "
            "vehicle maker says where it may be lifted.",
            "Vehicles start, and their doors move, by themselves: the maker's procedure says how to "
            "prevent it.",
            "Local rules say what protects electric sockets beside water.",
        ),
    ),
    Caution(
        Topic.DUST,
        "Dust, fumes and waste",
        "Sanding dust and fumes of overheated film harm; film, blades and wipes are not household waste "
        "everywhere.",
        (
            "The data sheets say which protection dust and fumes call for.",
            "Local rules say how film, liners, blades and solvent wipes are thrown away.",
        ),
    ),
)

_BY_TOPIC = {caution.topic: caution for caution in CAUTIONS}


def caution(topic: Topic | str) -> Caution:
    return _BY_TOPIC[Topic(topic)]


def all_words() -> tuple[str, ...]:
    texts = {FOOT, SHORT_FOOT, NO_PROCEDURE, WHAT_WAS_DONE}
    for each in CAUTIONS:
        texts |= {each.title, each.short, *each.long}
    return tuple(sorted(texts))
