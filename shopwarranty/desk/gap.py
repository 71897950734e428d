"""One thing that stands between a finished job and its handover."""

from dataclasses import dataclass
from enum import StrEnum
from typing import Final


class Kind(StrEnum):
    """BLOCKS: no way round it; ASKS: a person gives a reason; TELLS: good to know."""

    BLOCKS = "blocks"
    ASKS = "asks"
    TELLS = "tells"


ORDER: Final = {Kind.BLOCKS: 0, Kind.ASKS: 1, Kind.TELLS: 2}


@dataclass(frozen=True, slots=True)
class Gap:
    """`key` names the fact and is what a reason is kept under; `url` leads to where it is put right.

    `answered` is a reason somebody gave before, by whom stands in `answered_by`. `only_owner`: the reason is
    the owner's to give. `of_text` marks what the legal checklist says about the words.
    """

    kind: Kind
    key: str
    words: str
    url: str = ""
    act: str = ""
    only_owner: bool = False
    of_text: bool = False
    answered: str = ""
    answered_by: str = ""

    @property
    def blocks(self) -> bool:
        return self.kind is Kind.BLOCKS

    @property
    def asks(self) -> bool:
        return self.kind is Kind.ASKS
