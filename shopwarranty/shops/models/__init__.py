from .asked import Asked
from .change import Change, Counter, Erasing
from .people import BayDevice, Invitation, Member, User
from .shop import Bay, ClosedDay, OpeningHours, Shop

__all__ = [
    "Asked",
    "Bay",
    "BayDevice",
    "Change",
    "ClosedDay",
    "Counter",
    "Erasing",
    "Invitation",
    "Member",
    "OpeningHours",
    "Shop",
    "User",
]
