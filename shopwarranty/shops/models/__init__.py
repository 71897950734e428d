from .change import Change, Counter
from .people import BayDevice, Invitation, Member, User
from .shop import Bay, ClosedDay, OpeningHours, Shop

__all__ = [
    "Bay",
    "BayDevice",
    "Change",
    "ClosedDay",
    "Counter",
    "Invitation",
    "Member",
    "OpeningHours",
    "Shop",
    "User",
]
