"""Django's PostgreSQL, with the scope as the setting that the row policies read.

The setting is sent only when it differs from what this connection was told last, so that a request costs a
round trip or two more, however many statements it makes. A rollback also takes back what was told within it:
then the connection forgets, and it is told again.

`kept` counts what was written for good (`again.py` asks).
"""

from collections.abc import Callable
from typing import Any, Final

from django.db.backends.postgresql import base

from ..scope import EVERY, current_shop_id

SETTING: Final = "shopwarranty.shop"
EVERY_SHOP: Final = "*"
TELL: Final = f"SELECT set_config('{SETTING}', %s, false)"


def wanted() -> str:
    """What the policies read: a shop's number, all shops, or no shop at all."""
    shop_id = current_shop_id()
    if shop_id is None:
        return ""
    return EVERY_SHOP if shop_id == EVERY else str(shop_id)


class DatabaseWrapper(base.DatabaseWrapper):
    def __init__(self, *args: Any, **more: Any) -> None:
        super().__init__(*args, **more)
        self.told: str | None = None
        self.kept = 0
        self.execute_wrappers.append(self.tell_first)

    def tell_first(self, execute: Callable[..., Any], sql: Any, params: Any, many: bool, context: Any) -> Any:
        if str(sql).lstrip()[:8].upper() == "ROLLBACK":  # what was told may be taken back by it
            self.told = None
        elif self.told != (shop := wanted()):
            self.tell(shop)
        done = execute(sql, params, many, context)
        if not self.in_atomic_block and not str(sql).startswith("SELECT"):  # a statement kept by itself
            self.kept += 1
        return done

    def tell(self, shop: str) -> None:
        """On the connection below Django's, since it is no question of the program's."""
        self.told = None
        with self.wrap_database_errors, self.connection.cursor() as cursor:
            cursor.execute(TELL, [shop])
        self.told = shop

    def get_new_connection(self, conn_params: Any) -> Any:
        self.told = None
        return super().get_new_connection(conn_params)

    def _commit(self) -> Any:
        done = super()._commit()  # type: ignore[misc]
        self.kept += 1
        return done

    def _rollback(self) -> Any:
        self.told = None
        return super()._rollback()  # type: ignore[misc]

    def _savepoint_rollback(self, sid: str) -> None:
        self.told = None
        super()._savepoint_rollback(sid)  # type: ignore[misc]
