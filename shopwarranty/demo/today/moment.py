"""The moments at which the living part of the story happens."""

from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from shopwarranty.shops.history import Actor
from shopwarranty.shops.models import Shop

from ..told import Story
from ..writing.rows import Written

AFTERNOON = time(14, 50)


@dataclass(frozen=True, slots=True)
class Day:
    """The shop on its day. `eve`, on the afternoon before, is the last moment at which anything happened."""

    written: Written
    story: Story

    @property
    def today(self) -> date:
        return self.story.today

    @property
    def shop(self) -> Shop:
        return self.written.shop

    @property
    def eve(self) -> datetime:
        return self.ago(1, AFTERNOON)

    def ago(self, days: int, at: time = time(10, 15)) -> datetime:
        """The moment so many days before today, by the shop's clock."""
        return self.written.at(datetime.combine(self.today - timedelta(days=days), at))

    def actor(self, key: str) -> Actor:
        return self.written.actor(key)
