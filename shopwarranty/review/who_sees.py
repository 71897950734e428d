"""Figures by installer: off until an owner turns them on, then for owners, and for each installer his own."""

from __future__ import annotations

from collections.abc import Mapping

from shopwarranty.shops.models import Member, Shop


def installers_shown(shop: Shop, member: Member, installers: Mapping[str, int]) -> frozenset[str]:
    """The levels of "installer" this member may see; none for the front desk or while the shop has it off."""
    if not shop.installer_figures:
        return frozenset()
    if member.is_owner:
        return frozenset(installers)
    return frozenset(name for name, pk in installers.items() if member.is_installer and pk == member.pk)
