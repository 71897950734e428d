"""Who may open which page. Every page of a shop says so; one that does not is closed to everybody."""

from collections.abc import Callable
from typing import Any, Final, TypeVar

from django.core.exceptions import PermissionDenied

from .history import Actor

ROLES_OF: Final = "allowed_roles"
View = TypeVar("View", bound=Callable[..., Any])
OWNER: Final = frozenset({"owner"})
DESK: Final = frozenset({"owner", "desk"})
ANYONE: Final = frozenset({"owner", "installer", "desk"})
# Recording and checking: open on a device of the bay as well, where everybody has the one role "bay".
IN_THE_BAY: Final = ANYONE | {"bay"}


class Refused(PermissionDenied):
    """The member's roles do not allow this page."""


def allow(roles: frozenset[str]) -> Callable[[View], View]:
    """Marks a view with the roles that may open it: `@allow(ANYONE)`. An owner may do all."""

    def mark(view: View) -> View:
        setattr(view, ROLES_OF, roles | OWNER)
        return view

    return mark


def actor_of(request: Any) -> Actor:
    return Actor.of(request.member, request.member.device)
