"""Who came in, who was not let in, who left: one line each, by number and never by name or address."""

import logging
from typing import Any

from django.contrib.auth.signals import user_logged_in, user_logged_out, user_login_failed
from django.dispatch import receiver

log = logging.getLogger("shopwarranty.security")


@receiver(user_logged_in)
def came_in(sender: Any, user: Any, **more: Any) -> None:
    log.info("signed in: user %s", user.pk)


@receiver(user_logged_out)
def left(sender: Any, user: Any, **more: Any) -> None:
    if user is not None:
        log.info("signed out: user %s", user.pk)


@receiver(user_login_failed)
def not_let_in(sender: Any, **more: Any) -> None:
    """Whose name was tried stays unsaid: the table of the tries has it, for as long as it counts."""
    log.warning("sign-in refused")


def refused(member: Any, route: str) -> None:
    log.warning("refused: member %s at /%s", member.pk, route)
