"""What higher rooms have to say at a panel or job, shown on its page, added by a room's `AppConfig.ready`."""

from collections.abc import Callable
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class PanelNote:
    """A sentence with what can be answered to it: `act_url` takes a POST of `did` (and `why`).

    `did` is drawn (`act_words` say it), other or neither.
    """

    title: str
    words: str
    act_url: str = ""
    url: str = ""
    act_words: str = ""


Source = Callable[[str, int], list[PanelNote]]
_sources: list[Source] = []
_job_sources: list[Source] = []


def add_source(source: Source) -> None:
    """`source(slug, panel_work_id)`; asked once for every page of a panel."""
    _sources.append(source)


def add_job_source(source: Source) -> None:
    """`source(slug, job_id)`; asked once for every page of a job."""
    _job_sources.append(source)


def job_notes_at(slug: str, job_id: int) -> list[PanelNote]:
    return [note for source in _job_sources for note in source(slug, job_id)]


def notes_at(slug: str, panel_work_id: int) -> list[PanelNote]:
    return [note for source in _sources for note in source(slug, panel_work_id)]
