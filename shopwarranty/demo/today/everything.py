"""The living part of the demo shop, in the order in which it happened."""

from shopwarranty.defects.lives import rebuild_lives
from shopwarranty.jobs.models import Job
from shopwarranty.shops.scope import shop_scope

from ..told import Story
from ..writing.rows import Written
from . import bays, claims, defects, earlier_claims, maker_claims, papers, photos, week
from .moment import Day


def live_through(written: Written, story: Story) -> None:
    """Brings the shop to the morning of its day. Call inside the transaction of the writing."""
    day = Day(written, story)
    with shop_scope(written.shop):
        papers.write_plan(day)
        papers.issue_certificates(day)
        papers.sell_a_vehicle(day)
        defects.replace_a_piece(day)
        defects.not_found_again(day)
        papers.hand_over_latest(day)
        bays.open_jobs(day)
        week.fill_week(day)
        earlier_claims.write_earlier(day)
        claims.write_claims(day)
        claims.write_reports(day)
        claims.learn_from_it(day)
        photos.add_pictures(day)
        maker_claims.claim_from_makers(day)
        rebuild_lives([job.pk for job in Job.objects.filter(imported_at=None)])
