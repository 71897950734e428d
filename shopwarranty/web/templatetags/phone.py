"""What a page in the bay tells the phone that shows it."""

from typing import Any

from django import template
from django.conf import settings
from django.utils.crypto import salted_hmac

register = template.Library()


@register.filter
def initials(member: Any) -> str:
    """Two letters at most: enough for a colleague, nothing for anybody else."""
    words = str(member or "").split()
    return "".join(word[0] for word in (words[:1] + words[1:][-1:])).upper()


@register.filter
def seal(member: Any) -> str:
    """What this member's entries are sealed with on a phone; only pages of theirs carry it.

    After it those made from older secret keys: what was sealed before a key was changed is opened with them.
    """
    whose, keys = f"{member.shop_id}:{member.pk}", (settings.SECRET_KEY, *settings.SECRET_KEY_FALLBACKS)
    made = (salted_hmac("entries on a phone", whose, secret=key, algorithm="sha256") for key in keys)
    return " ".join(each.hexdigest() for each in made)
