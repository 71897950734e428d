"""What higher rooms have to say at a panel, shown on its page. A room adds its own in `AppConfig.ready`."""

from collections.abc import Callable
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class PanelNote:
    """A sentence with what can be answered to it: `act_url` takes a POST of `did` (and `why`)."""

    title: str
    words: str
    act_url: str = ""
    url: str = ""


Source = Callable[[str, int], list[PanelNote]]
_sources: list[Source] = []


def add_source(source: Source) -> None:
    """`source(slug, panel_work_id)`; asked once for every page of a panel."""
    _sources.append(source)


def notes_at(slug: str, panel_work_id: int) -> list[PanelNote]:
    return [note for source in _sources for note in source(slug, panel_work_id)]
