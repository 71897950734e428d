"""Throws away stored files that no row of any shop names any more: the same bytes may be others' too."""

from collections.abc import Collection, Iterator
from typing import Any

from django.apps import apps
from django.core.files.storage import default_storage
from django.db import models

from shopwarranty.shops.scope import every_shop
from shopwarranty.shops.stored_bytes import path_of


def throw_away(hashes: Collection[str]) -> int:
    with every_shop():
        still = {name for model, field in naming_files() for name in named_in(model, field, hashes)}
    going = set(hashes) - still
    for sha256 in going:
        default_storage.delete(path_of(sha256))
    return len(going)


def naming_files() -> Iterator[tuple[Any, str]]:
    """Every column that names a stored file by its hash."""
    for model in apps.get_models():
        for field in model._meta.local_concrete_fields:
            if field.name.endswith("sha256") and isinstance(field, models.CharField):
                yield model, field.name


def named_in(model: Any, field: str, hashes: Collection[str]) -> set[str]:
    rows = model._default_manager.filter(**{f"{field}__in": hashes}).order_by()
    return set(rows.values_list(field, flat=True))
