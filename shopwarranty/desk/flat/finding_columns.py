"""The columns of the findings file, in the order they are written: one row per visit, place and defect."""

from collections.abc import Iterator

from django.utils.translation import gettext_lazy as _

from shopwarranty.trade import words

from .columns import DEGREES, LENGTHS, Column, Kind, Level, Unit, basis_column, keys_of, text, word

VISIT, FINDING = Level.VISIT, Level.FINDING


def _visit() -> Iterator[Column]:
    yield text("job_ref", VISIT, 40, _("The job whose film was looked at."), needed=True)
    yield Column("visit_on", VISIT, Kind.DAY, _("The day the vehicle was looked at."), needed=True)
    yield word(
        "origin",
        VISIT,
        keys_of(words.VISIT_ORIGINS),
        _("Why it was there: planned check, walked in, came back because of a defect, claim."),
        needed=True,
    )
    yield Column("by_photo", VISIT, Kind.YES_NO, _("Only photos were looked at; empty: no."))
    yield Column("handover_look", VISIT, Kind.YES_NO, _("The look before the vehicle left; empty: no."))
    yield Column(
        "visit_number",
        VISIT,
        Kind.WHOLE,
        _("1, 2 … for several such visits on one day; empty: 1."),
        least=1,
        most=32767,
    )
    yield Column("visited_at", VISIT, Kind.MOMENT, _("The moment of it; empty: noon of that day."))
    yield Column(
        "visit_entered_at", VISIT, Kind.MOMENT, _("When it was written down; empty: the moment of import.")
    )
    yield Column("since_when", VISIT, Kind.DAY, _("Since when, as the holder says; kept as said."))
    yield text("since_when_words", VISIT, 120, _("The same in the holder's words."))
    yield text("inspected_by", VISIT, 120, _("Who looked; one who is not here yet is added."))
    yield Column(
        "odometer",
        VISIT,
        Kind.WHOLE,
        _("Reading of the odometer."),
        units=(Unit.KM,),
        least=0,
        most=9_999_999,
    )
    yield text("signed_name", VISIT, 160, _("Who signed for it."))
    yield text("visit_note", VISIT, 10_000, _("A note on the visit."))
    yield text("check_plan", VISIT, 24, _("Key of the planned check that it was for, as two-week."))
    yield Column("check_due_on", VISIT, Kind.DAY, _("When that check was due."))
    yield Column("check_settled", VISIT, Kind.YES_NO, _("Whether that check was done with it; empty: yes."))


def _finding() -> Iterator[Column]:
    yield text("panel", FINDING, 48, _("The panel's key."), needed=True)
    yield Column("piece", FINDING, Kind.WHOLE, _("Number of the film piece; empty: 1."), least=1, most=32767)
    yield text(
        "place",
        FINDING,
        48,
        _("The place's key; all: every place of that piece that no other row of the visit names."),
        needed=True,
    )
    yield word("result", FINDING, ("clean", "defect", "not_looked"), _("What was seen there."), needed=True)
    yield text("why_not", FINDING, 120, _("Why it was not looked at."))


def _defect() -> Iterator[Column]:
    yield text("kind", FINDING, 40, _("The defect kind's key, from the list below; needed for a defect."))
    yield text("kind_name", FINDING, 80, _("Its name; a kind nobody knows yet is added by this name."))
    yield Column(
        "kind_is_failure", FINDING, Kind.YES_NO, _("Whether such a new kind counts as a failure of the work.")
    )
    yield Column(
        "defect_number",
        FINDING,
        Kind.WHOLE,
        _("1 for the first defect of its kind at that place, 2 for the next. Empty: worked out."),
        least=1,
        most=32767,
    )
    yield Column(
        "severity",
        FINDING,
        Kind.WHOLE,
        _("1 to 4, from the list below; needed for a defect."),
        least=1,
        most=4,
    )
    size = {"units": LENGTHS, "least": 0}
    yield Column("extent", FINDING, Kind.NUMBER, _("How long, wide or large."), **size)  # type: ignore[arg-type]
    yield Column("depth", FINDING, Kind.NUMBER, _("How deep from the edge."), **size)  # type: ignore[arg-type]
    yield Column("how_many", FINDING, Kind.WHOLE, _("How many."), stem="count", least=0, most=32767)
    yield text("sighting_note", FINDING, 240, _("A note on what was seen."))
    yield word(
        "defect_state",
        FINDING,
        ("open", "remedied", "not_reproduced", "ended"),
        _("What has become of it; empty: remedied if something was done about it, else open."),
    )
    yield Column("defect_verified", FINDING, Kind.YES_NO, _("Whether a second look confirmed it."))
    yield word("cause", FINDING, keys_of(words.CAUSES), _("The cause as judged; empty: not judged."))
    yield word("cause_sure", FINDING, ("guess", "likely", "certain"), _("How sure that is; empty: a guess."))


def _remedy() -> Iterator[Column]:
    yield word(
        "remedy", FINDING, keys_of(words.REMEDIES), _("What was done about it; several: repeat the row.")
    )
    yield Column("remedy_on", FINDING, Kind.DAY, _("When; empty: the day of the visit."))
    yield text("remedy_by", FINDING, 120, _("Who did it; one who is not here yet is added."))
    yield text("remedy_elsewhere", FINDING, 160, _("Done by another shop: who says so."))
    yield Column(
        "remedy_time", FINDING, Kind.WHOLE, _("How long it took."), units=(Unit.MINUTES,), least=0, most=32767
    )
    yield Column("remedy_cost", FINDING, Kind.MONEY, _("What it cost, in the shop's currency."))
    yield Column("remedy_goodwill", FINDING, Kind.YES_NO, _("Done as goodwill; empty: no."))
    heat = Column(
        "remedy_heat_c", FINDING, Kind.NUMBER, _("Temperature of it."), stem="remedy_heat", units=DEGREES
    )
    passes = Column("remedy_passes", FINDING, Kind.WHOLE, _("Passes of it."), least=0, most=32767)
    for value in (heat, passes):
        yield value
        yield basis_column(value)
    yield text("remedy_note", FINDING, 10_000, _("A note on it."))
    yield Column(
        "remedy_piece",
        FINDING,
        Kind.WHOLE,
        _("Number of the film piece that took its place."),
        least=1,
        most=32767,
    )


FINDING_COLUMNS: tuple[Column, ...] = (*_visit(), *_finding(), *_defect(), *_remedy())
