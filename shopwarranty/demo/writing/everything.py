"""The past of the demo shop in one go: all that needs no act of a person."""

from datetime import date

from shopwarranty.defects.lives import rebuild_lives
from shopwarranty.jobs.models import PanelWork
from shopwarranty.shops.scope import shop_scope

from ..story import tell
from ..told import Story
from .checks import write_appointments, write_checks
from .jobs import write_jobs
from .looks import write_looks
from .rows import Written
from .shop import write_shop
from .stock import write_stock
from .vehicles import write_vehicles


def write_past(today: date) -> tuple[Written, Story]:
    """The shop with all that happened before `today`, its lives derived. Call inside a transaction."""
    story = tell(today)
    written = write_shop(today)
    with shop_scope(written.shop):
        write_stock(written, story)
        write_vehicles(written, story)
        write_jobs(written, story)
        write_checks(written, story)
        write_appointments(written, story)
        write_looks(written, story)
        _end_lost_panels(written, story)
        rebuild_lives()
    return written, story


def _end_lost_panels(written: Written, story: Story) -> None:
    """A body part replaced after a collision took its film with it."""
    for number, course in enumerate(story.courses):
        if course.lost_panel is None or course.lost_on is None:
            continue
        work = written.panels[number][course.lost_panel]
        work.pieces.update(ended_on=course.lost_on, ended_why="panel_replaced")
        PanelWork.objects.filter(pk=work.pk).update(removed_on=course.lost_on, removed_why="collision")
