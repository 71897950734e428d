"""What commands that run for a while share: the shop by its slug, and a line that says how far they are."""

import time
from typing import Final

from django.core.management.base import CommandError, OutputWrapper

from shopwarranty.shops.models import Shop

PAUSE: Final = 0.5
SAID: Final = {
    "checking": "checked {:,} rows",
    "writing": "written {:,} rows",
    "lives": "working out the lives of {:,} jobs",
    "checks": "planned the checks of {:,} jobs",
}


def shop_of(slug: str) -> Shop:
    shop = Shop.objects.filter(slug=slug).first()
    if shop is None:
        raise CommandError(f"There is no shop “{slug}”.", returncode=2)
    return shop


class ProgressLine:
    """On a terminal one line that changes, elsewhere a line every ten seconds."""

    def __init__(self, out: OutputWrapper) -> None:
        self.out, self.last, self.shown = out, 0.0, False
        self.on_terminal = out.isatty()

    def __call__(self, stage: str, rows: int) -> None:
        now = time.monotonic()
        if now - self.last < (PAUSE if self.on_terminal else 20 * PAUSE):
            return
        self.last, self.shown = now, True
        words = SAID[stage].format(rows)
        self.out.write(
            f"\r{words:<60}" if self.on_terminal else words, ending="" if self.on_terminal else "\n"
        )
        self.out.flush()

    def end(self) -> None:
        if self.shown and self.on_terminal:
            self.out.write("")
