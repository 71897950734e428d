"""What all rows of a shop say, but for ids and secrets, as one hash a table."""

import hashlib
import json
from typing import Any

from django.apps import apps
from django.core.serializers.json import DjangoJSONEncoder
from django.db import models

from shopwarranty.shops.rows import ShopOwned
from shopwarranty.shops.scope import shop_scope

MADE_ANEW = {
    *("uid", "code", "token_hash", "snapshot", "snapshot_sha256", "pdf_sha256", "pdf_length"),
    *("key", "about", "text", "html", "attachments", "row", "before", "after", "password"),
    *("sealed", "certificate_pem", "fingerprint"),
}
"""Ids, secrets and bytes that hold them: drawn by chance for every shop."""


def digest_of(shop: Any) -> dict[str, str]:
    with shop_scope(shop):
        tables = [model for model in apps.get_models() if issubclass(model, ShopOwned)]
        return {model._meta.label: _hash(model) for model in tables}


def _hash(model: type[models.Model]) -> str:
    names = [
        field.name
        for field in model._meta.local_concrete_fields
        if not field.primary_key and not field.is_relation and field.name not in MADE_ANEW
    ]
    found = model._default_manager.all()
    rows = found.values_list(*names) if names else [() for _row in found]  # links alone: how many
    said = sorted(json.dumps(row, cls=DjangoJSONEncoder, sort_keys=True) for row in rows)
    return f"{len(said)} {hashlib.sha256(chr(10).join(said).encode()).hexdigest()[:16]}"
