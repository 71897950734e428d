"""What rooms that keep addresses may want to follow. Sent in the shop's scope, inside the transaction."""

from django.dispatch import Signal

address_marked = Signal()
"""`channel`, `address`, `now`: it takes nothing."""

address_cleared = Signal()
"""`channel`, `address`, `now`: it is written to again."""
