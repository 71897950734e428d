"""Where every place of some jobs lies, read table by table by ids.

Databases plan such queries well also where they have no figures yet of rows that were only just written.
"""

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import datetime
from typing import NamedTuple

from shopwarranty.jobs.models import FilmPiece, Job, PanelWork, Place


class PlaceAt(NamedTuple):
    job_id: int
    panel: str
    piece: int
    place: str
    kind: str
    walk: int
    body: str


class PieceAt(NamedTuple):
    job_id: int
    panel: str
    number: int
    replaces_number: int | None


@dataclass(slots=True)
class FilmOfJobs:
    """Panels, pieces and places of these jobs by row. Four queries."""

    bodies: dict[int, str] = field(default_factory=dict)
    panels: dict[int, tuple[int, str, datetime | None]] = field(default_factory=dict)
    pieces: dict[int, PieceAt] = field(default_factory=dict)
    places: dict[int, PlaceAt] = field(default_factory=dict)

    @classmethod
    def read(cls, job_ids: Iterable[int]) -> "FilmOfJobs":
        film = cls()
        rows = Job.objects.filter(pk__in=list(job_ids)).values_list("pk", "vehicle__body_style")
        film.bodies = dict(rows)
        film._read_panels()
        film._read_pieces()
        film._read_places()
        return film

    def _read_panels(self) -> None:
        rows = PanelWork.objects.filter(job__in=list(self.bodies)).order_by("walk", "pk")
        for pk, job_id, panel, finished in rows.values_list("pk", "job_id", "panel", "finished_at"):
            self.panels[pk] = (job_id, panel, finished)

    def _read_pieces(self) -> None:
        rows = FilmPiece.objects.filter(panel_work__in=list(self.panels)).order_by("number", "pk")
        for pk, panel_id, number, before in rows.values_list(
            "pk", "panel_work_id", "number", "replaces__number"
        ):
            job_id, panel, _finished = self.panels[panel_id]
            self.pieces[pk] = PieceAt(job_id, panel, number, before)

    def _read_places(self) -> None:
        rows = Place.objects.filter(piece__in=list(self.pieces)).order_by("walk", "pk")
        for pk, piece_id, key, kind, walk in rows.values_list("pk", "piece_id", "key", "kind", "walk"):
            piece = self.pieces[piece_id]
            body = self.bodies[piece.job_id]
            self.places[pk] = PlaceAt(piece.job_id, piece.panel, piece.number, key, kind, walk, body)
