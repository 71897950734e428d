"""The columns of the jobs file, in the order they are written: one row per job, panel, piece and place."""

from collections.abc import Iterator

from django.utils.translation import gettext_lazy as _

from shopwarranty.trade import technique as trade_technique
from shopwarranty.trade import words
from shopwarranty.trade.bodies import BODIES

from .columns import DEGREES, LENGTHS, Column, Kind, Level, Unit, basis_column, keys_of, technique, text, word

JOB, PANEL, PIECE, PLACE = Level.JOB, Level.PANEL, Level.PIECE, Level.PLACE
BODY_STYLES = tuple(body.key for body in BODIES)
SAFETY = ("yes", "no", "not_asked")


def _job() -> Iterator[Column]:
    yield text("job_ref", JOB, 40, _("The job's number or name; on every row."), needed=True)
    yield word("job_kind", JOB, ("customer", "own", "test_panel"), _("Empty: by whose vehicle it is."))
    yield word(
        "job_state", JOB, ("open", "handed_over", "closed"), _("Empty: handed over if there is a handover.")
    )
    yield Column(
        "started_at",
        JOB,
        Kind.MOMENT,
        _("When the work began; empty: the day the first panel was finished, else of the handover."),
    )
    yield Column(
        "entered_at",
        JOB,
        Kind.MOMENT,
        _("When it was written down, perhaps days after the work. Empty: the moment of import."),
    )
    yield Column(
        "handed_over_on", JOB, Kind.DAY, _("The day the vehicle went back to its owner; empty: not yet.")
    )
    yield Column("handed_over_at", JOB, Kind.MOMENT, _("The moment of it; empty: noon of that day."))
    yield Column("planned_handover_on", JOB, Kind.DAY, _("The day it is meant to go back."))
    yield Column("quoted_months", JOB, Kind.WHOLE, _("Months of warranty that were quoted."), most=1200)
    yield text("method", JOB, 80, _("The shop method followed; one that is not here yet is made, empty."))
    yield Column(
        "method_version", JOB, Kind.WHOLE, _("Its version; empty: 1 or the latest."), least=1, most=32767
    )
    yield text("no_method_reason", JOB, 160, _("Why no method was followed."))
    yield Column(
        "confirmed_at",
        JOB,
        Kind.MOMENT,
        _("When the method's values for the job as a whole were confirmed."),
        stem="job_confirmed_at",
    )
    yield from technique(JOB, trade_technique.fields(trade_technique.Level.JOB))
    yield word("makers_procedure", JOB, SAFETY, _("Film maker's procedure followed."))
    yield word("sensors_clear", JOB, SAFETY, _("Sensors, lamps and cameras kept clear."))
    yield word("blades_returned", JOB, SAFETY, _("All blades back."))
    yield text("job_note", JOB, 10_000, _("A note on the job."))


def _vehicle() -> Iterator[Column]:
    yield text(
        "vehicle_first_job",
        JOB,
        40,
        _("The job_ref of the first job on the same vehicle; the job's own: a vehicle of its own."),
    )
    yield word(
        "vehicle_owned",
        JOB,
        ("customer", "shop", "panel"),
        _("Whose it is: a customer's, the shop's own, or a loose test panel. Empty: by job_kind."),
    )
    yield text("make", JOB, 60, _("Make of the vehicle."))
    yield text("model", JOB, 60, _("Model."))
    yield Column("year", JOB, Kind.WHOLE, _("Model year."), least=1880, most=2200)
    yield text("colour", JOB, 60, _("Colour."))
    yield word(
        "body_style",
        JOB,
        BODY_STYLES,
        _("Its body style, which says what panels it has. For a loose panel: what it is from."),
        needed=True,
    )
    yield word("vehicle_use", JOB, ("road", "off_road", "stored"), _("How it is used."))
    yield text("vin", JOB, 40, _("VIN, or chassis number."))
    yield word(
        "vin_kind",
        JOB,
        ("vin", "chassis", "to_read", "none"),
        _("What that number is. Empty: a VIN; without a number still to be read, on a loose panel none."),
    )
    yield text("vin_reason", JOB, 160, _("Why there is no VIN."))
    yield text("plate", JOB, 20, _("The number plate at the time of the job."))
    yield Column("plate_since", JOB, Kind.DAY, _("Since when it carried that plate; empty: the job's start."))
    yield from _holder()


def _holder() -> Iterator[Column]:
    yield text("holder", JOB, 160, _("Who holds the warranty; none on the shop's own vehicles."))
    yield Column("holder_since", JOB, Kind.DAY, _("Since when; empty: the job's start."))
    yield word("holder_kind", JOB, ("person", "firm"), _("Empty: a person."))
    yield Column("holder_consumer", JOB, Kind.YES_NO, _("Bought as a consumer; empty: yes."))
    yield text("holder_email", JOB, 254, _("E-mail address."))
    yield text("holder_telephone", JOB, 40, _("Telephone."))
    yield text("holder_address", JOB, 2000, _("Postal address."))
    yield text("holder_language", JOB, 8, _("Language, as en or de."))


def _panel() -> Iterator[Column]:
    yield text("panel", PANEL, 48, _("The panel's key, from the list below; empty: no panel yet."))
    yield text(
        "panel_name",
        PANEL,
        80,
        _("For a panel that neither the list nor the shop knows: what it is called. It is added."),
    )
    yield word("substrate", PANEL, keys_of(words.SUBSTRATES), _("What the film went on."))
    yield Column("painted_on", PANEL, Kind.DAY, _("When it was painted again."))
    yield text("old_marks", PANEL, 10_000, _("Marks it had before."))
    yield Column("marks_shown_at", PANEL, Kind.MOMENT, _("When the holder was shown them."))
    yield text("marks_shown_to", PANEL, 160, _("Who was shown them."))
    yield from technique(PANEL, trade_technique.fields(trade_technique.Level.PANEL))
    yield Column(
        "confirmed_at",
        PANEL,
        Kind.MOMENT,
        _("When the installer confirmed the method's values; needed for the basis by_method."),
        stem="panel_confirmed_at",
    )
    yield Column("finished_at", PANEL, Kind.MOMENT, _("When it was finished."), stem="panel_finished_at")
    yield text("installer", PANEL, 120, _("Who did it, or led; one who is not here yet is added."))
    yield text("installer_part", PANEL, 80, _("The part of the work that was."))
    yield Column(
        "other_installers", PANEL, Kind.ENTRIES, _("Who else: names, each perhaps with a part: name: part.")
    )
    yield Column(
        "removed_items",
        PANEL,
        Kind.ENTRIES,
        _("What was taken off, each with what became of it: name: refitted, replaced or given_back."),
    )
    yield Column(
        "laying_events",
        PANEL,
        Kind.ENTRIES,
        _("laid_again, needle, fold or recut, each perhaps with moment and note: needle 2025-…: note."),
        stem="panel_laying_events",
    )
    yield from _reading()
    yield Column(
        "removed_on", PANEL, Kind.DAY, _("When the body part was taken off."), stem="panel_removed_on"
    )
    yield text("removed_why", PANEL, 24, _("Why."), stem="panel_removed_why")
    yield text("panel_note", PANEL, 10_000, _("A note on the panel."))


def _reading() -> Iterator[Column]:
    """The reading nearest to the panel."""
    yield Column(
        "measured_at",
        PANEL,
        Kind.MOMENT,
        _("When the reading nearest to the panel was taken; empty: when the panel was finished."),
    )
    air = Column("air_c", PANEL, Kind.NUMBER, _("Air."), stem="air", units=DEGREES)
    surface = Column("surface_c", PANEL, Kind.NUMBER, _("Surface."), stem="surface", units=DEGREES)
    humidity = Column(
        "humidity",
        PANEL,
        Kind.NUMBER,
        _("Relative humidity."),
        units=(Unit.PERCENT,),
        least=0,
        most=100,
    )
    for value in (air, surface, humidity):
        yield value
        yield basis_column(value)
    yield text("instrument", PANEL, 60, _("Measured with."))


def _piece() -> Iterator[Column]:
    yield Column(
        "piece", PIECE, Kind.WHOLE, _("Number of the film piece on the panel; empty: 1."), least=1, most=32767
    )
    yield Column(
        "layer", PIECE, Kind.WHOLE, _("1 lies on the paint, 2 over it; empty: 1."), least=1, most=32767
    )
    yield text("piece_name", PIECE, 60, _("What the piece is called."))
    yield text("film_maker", PIECE, 80, _("The film's maker."))
    yield text("film", PIECE, 120, _("The film's name; one that is not here yet is added."))
    yield word("film_family", PIECE, keys_of(words.FILM_FAMILIES), _("Needed for a film that is new here."))
    yield text("lot", PIECE, 60, _("The maker's batch number, or: unknown."))
    yield text("lot_unknown_reason", PIECE, 160, _("Why the lot is unknown; needed where it is."))
    yield text("roll", PIECE, 40, _("The label of the roll."))
    yield Column("supplied_by_owner", PIECE, Kind.YES_NO, _("The customer brought the film; empty: no."))
    yield from _cut()
    yield Column("ended_on", PIECE, Kind.DAY, _("When the piece came off."), stem="piece_ended_on")
    yield text("ended_why", PIECE, 24, _("Why."), stem="piece_ended_why")
    yield Column(
        "replaces_piece",
        PIECE,
        Kind.WHOLE,
        _("Number of the piece it took the place of."),
        least=1,
        most=32767,
    )
    yield text("replaces_job", PIECE, 40, _("The job_ref of that piece; empty: this job."))


def _cut() -> Iterator[Column]:
    size = {"units": LENGTHS, "least": 0}
    yield Column("cut_along", PIECE, Kind.NUMBER, _("Length cut along the roll."), **size)  # type: ignore[arg-type]
    yield Column("cut_across", PIECE, Kind.NUMBER, _("Width of the cut."), **size)  # type: ignore[arg-type]
    yield Column(
        "cut_off_roll",
        PIECE,
        Kind.NUMBER,
        _("How much shorter the roll is by it; empty: the length, where a roll is named."),
        **size,  # type: ignore[arg-type]
    )
    yield Column("cut_at", PIECE, Kind.MOMENT, _("When it was cut; empty: the job's start."))
    yield Column("long_side_across", PIECE, Kind.YES_NO, _("Its long side lay across the roll."))


def _place() -> Iterator[Column]:
    yield text(
        "place",
        PLACE,
        48,
        _("The place's key, from the list below; all: every place of the panel; empty: the film piece only."),
    )
    yield word(
        "place_kind",
        PLACE,
        ("edge", "recess", "seam", "field"),
        _("Needed for a place that the list does not know; field is the surface."),
    )
    yield text("place_name", PLACE, 80, _("What such a place is called."))
    yield Column(
        "meets_piece", PLACE, Kind.WHOLE, _("For a seam: number of the other piece."), least=1, most=32767
    )
    yield Column(
        "added_on",
        PLACE,
        Kind.DAY,
        _("The day it came under record, if later than it was laid: what failed before could not be seen."),
        stem="place_added_on",
    )
    yield from technique(PLACE, trade_technique.fields(trade_technique.Level.PLACE))
    yield Column(
        "laying_events",
        PLACE,
        Kind.ENTRIES,
        _("What happened while laying, at this place."),
        stem="place_laying_events",
    )


JOB_COLUMNS: tuple[Column, ...] = (*_job(), *_vehicle(), *_panel(), *_piece(), *_place())
