"""Which steps of the tick have something to do: one query, put together once and asked anew each minute."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any, Self

from django.db import connection
from django.db.models import DateField, DateTimeField, Expression, QuerySet

from shopwarranty.shops.scope import every_shop

Rows = Callable[[], "QuerySet[Any]"]


class Moment(Expression):
    """The time of asking, or so long after it. It takes the place of a moment in a filter."""

    def __init__(self, after: timedelta = timedelta(), *, day: bool = False) -> None:
        super().__init__(output_field=DateField() if day else DateTimeField())
        self.after, self.day = after, day

    def __add__(self, span: timedelta) -> Self:  # type: ignore[override]
        return type(self)(self.after + span, day=self.day)

    def __sub__(self, span: timedelta) -> Self:  # type: ignore[override]
        return self + -span

    def as_sql(self, compiler: Any, connection: Any) -> tuple[str, list[Any]]:
        return "%s", [self]

    def at(self, now: datetime) -> Any:
        """As the database keeps it."""
        moment = now + self.after
        if self.day:
            return connection.ops.adapt_datefield_value(moment.astimezone(UTC).date())
        return connection.ops.adapt_datetimefield_value(moment)


When = datetime | Moment


@dataclass(frozen=True, slots=True)
class Question:
    """Something is to be done where `any_of` has a row, or `none_of` has none; always, without either."""

    any_of: Rows | None = None
    none_of: Rows | None = None

    def sql(self) -> tuple[str, list[Moment]]:
        """In every shop's scope."""
        parts = [_exists(each, no) for each, no in ((self.any_of, ""), (self.none_of, "NOT ")) if each]
        return " OR ".join(sql for sql, _ in parts) or "1 = 1", [
            value for _, values in parts for value in values
        ]


def _exists(rows: Rows, negated: str) -> tuple[str, list[Moment]]:
    query = rows().order_by().query.exists()
    sql, values = query.get_compiler(connection.alias).as_sql()
    return f"{negated}EXISTS ({_with_constants(sql, values)})", [v for v in values if isinstance(v, Moment)]


def _with_constants(sql: str, values: Iterable[Any]) -> str:
    """Only moments stay parameters: SQLite would plan the query anew whenever a state is bound that an index
    over a part of the rows speaks of."""
    quote = connection.schema_editor().quote_value
    return sql % tuple("%s" if isinstance(value, Moment) else quote(value) for value in values)


class Due:
    """Asks all questions at once."""

    def __init__(self, questions: Mapping[str, Question]) -> None:
        self._names = list(questions)
        with every_shop():
            asked = [each.sql() for each in questions.values()]
        self._sql = f"SELECT {', '.join(sql for sql, _ in asked)}"
        self._moments = [moment for _, moments in asked for moment in moments]

    def names(self, now: datetime) -> set[str]:
        with every_shop(), connection.cursor() as cursor:
            cursor.execute(self._sql, [moment.at(now) for moment in self._moments])
            return {name for name, due in zip(self._names, cursor.fetchone(), strict=True) if due}
