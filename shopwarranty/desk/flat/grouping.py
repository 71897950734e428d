"""Rows of the jobs file as jobs, one at a time: however long the file, one job is in memory."""

from collections.abc import Iterator
from dataclasses import dataclass, field

from django.utils.translation import gettext as _

from .columns import Level
from .level_reading import LevelReader, Raw, Repeated, filled
from .own_reading import OwnReader
from .reading import Sheet
from .records import (
    FlatJob,
    FlatPanel,
    FlatPiece,
    FlatPlace,
    JobValues,
    PanelValues,
    PieceValues,
    PlaceValues,
)


@dataclass(slots=True)
class _OpenPiece:
    piece: FlatPiece
    repeated: Repeated
    keys: dict[str, int] = field(default_factory=dict)


@dataclass(slots=True)
class _OpenPanel:
    panel: FlatPanel
    repeated: Repeated
    own_raw: Raw
    pieces: dict[int, _OpenPiece] = field(default_factory=dict)


@dataclass(slots=True)
class _OpenJob:
    """`ref` as the file writes it."""

    ref: str
    job: FlatJob
    repeated: Repeated
    own_raw: Raw
    panels: dict[str, _OpenPanel] = field(default_factory=dict)


class JobGrouper:
    """Give it the sheet and the shop's own fields; iterate `jobs()` once."""

    def __init__(self, sheet: Sheet, own: OwnReader) -> None:
        self.sheet, self.own = sheet, own
        self.job_reader = LevelReader(sheet, Level.JOB, JobValues)
        self.panel_reader = LevelReader(sheet, Level.PANEL, PanelValues)
        self.piece_reader = LevelReader(sheet, Level.PIECE, PieceValues)
        self.place_reader = LevelReader(sheet, Level.PLACE, PlaceValues)
        self.seen: set[str] = set()
        self.open: _OpenJob | None = None

    def jobs(self) -> Iterator[FlatJob]:
        """In the order of the file. What cannot be read is a fault of the sheet, and missing in the job."""
        skipping = ""
        for line, cells in self.sheet.lines():
            ref = cells[0].strip()
            if self.open is None or ref != self.open.ref:
                if not ref or ref in self.seen or ref == skipping:
                    skipping = self._skip(line, ref, skipping)
                    continue
                if self.open:
                    yield self.open.job
                self._begin(line, cells)
            self._take(line, cells)
        if self.open:
            yield self.open.job

    def _skip(self, line: int, ref: str, skipping: str) -> str:
        """A row that belongs to no job, or to one that is over. Says so once for each such stretch."""
        header = self.sheet.bound[0].header
        if not ref:
            self._fault(line, header, "", _("Whose row this is must be said."), _("Write the job's number."))
        elif ref != skipping:
            problem = _("was there before, with other jobs in between.")
            self._fault(line, header, ref, problem, _("Rows of one job stand together: sort by this column."))
        return ref

    def _begin(self, line: int, cells: list[str]) -> None:
        raw = self.job_reader.pick(cells)
        values = self.job_reader.read(line, raw)
        own_raw = self.own.pick[Level.JOB](cells)
        job = FlatJob(values, self.own.read(Level.JOB, line, own_raw), line=line)
        self.open = _OpenJob(cells[0].strip(), job, Repeated(raw, line), own_raw)
        self.seen.add(self.open.ref)

    def _take(self, line: int, cells: list[str]) -> None:
        opened = self.open
        assert opened is not None
        opened.job.rows += 1
        opened.repeated.check(self.job_reader, self.job_reader.pick(cells), line)
        self.own.check(Level.JOB, line, self.own.pick[Level.JOB](cells), opened.own_raw)
        panel = self._panel(opened, line, cells)
        piece = self._piece(panel, line, cells) if panel else None
        if piece:
            self._place(piece, line, cells)

    def _panel(self, opened: _OpenJob, line: int, cells: list[str]) -> _OpenPanel | None:
        raw = self.panel_reader.pick(cells)
        if not filled(raw):
            return None
        faults = self.sheet.faults.count
        values = self.panel_reader.read(line, raw)
        found = opened.panels.get(values.panel)
        own_raw = self.own.pick[Level.PANEL](cells)
        if found is None:
            panel = FlatPanel(values, self.own.read(Level.PANEL, line, own_raw), line=line)
            opened.job.panels.append(panel)
            found = opened.panels[values.panel] = _OpenPanel(panel, Repeated(raw, line), own_raw)
        elif self.sheet.faults.count == faults:
            found.repeated.check(self.panel_reader, raw, line)
            self.own.check(Level.PANEL, line, own_raw, found.own_raw)
        return found

    def _piece(self, panel: _OpenPanel, line: int, cells: list[str]) -> _OpenPiece | None:
        raw = self.piece_reader.pick(cells)
        if not filled(raw) and not filled(self.place_reader.pick(cells)):
            return None
        faults = self.sheet.faults.count
        values = self.piece_reader.read(line, raw)
        found = panel.pieces.get(values.piece or 1)
        if found is None:
            piece = FlatPiece(values, line=line)
            panel.panel.pieces.append(piece)
            found = panel.pieces[piece.number] = _OpenPiece(piece, Repeated(raw, line))
        elif self.sheet.faults.count == faults:
            found.repeated.check(self.piece_reader, raw, line)
        return found

    def _place(self, opened: _OpenPiece, line: int, cells: list[str]) -> None:
        raw = self.place_reader.pick(cells)
        values = self.place_reader.read(line, raw)
        if not values.place and not filled(raw):
            return
        before = opened.keys.setdefault(values.place, line)
        if before != line:
            problem = _("is there twice on this piece, first on line %(line)d.") % {"line": before}
            remedy = _("Take one of them out, or give them different pieces.")
            self._fault(line, self.sheet.header_of("place"), values.place, problem, remedy)
            return
        own = self.own.read(Level.PLACE, line, self.own.pick[Level.PLACE](cells))
        opened.piece.places.append(FlatPlace(values, own, line))

    def _fault(self, line: int, header: str, value: str, problem: str, remedy: str) -> None:
        self.sheet.faults.add(self.sheet.name, line, header, value, problem, remedy)
