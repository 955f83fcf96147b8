"""The ledger's table, as queries see it.

Not here: how the table came to be (`migrations`), what guards it (`guards`).
"""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from sqlalchemy import BigInteger, Column, Dialect, MetaData, Numeric, String, Table, Text
from sqlalchemy.types import TypeDecorator, TypeEngine

#: The version of the table that this program reads and writes.
REVISION = "0001"
VERSION_TABLE = "ledger_version"
#: Digits of the longest index: a width of 30 in an alphabet of 94 holds fewer than 10 ** 60.
INDEX_DIGITS = 60


class Index(TypeDecorator[int]):
    """A whole number of up to sixty digits: numeric where the database has it, else text that sorts as it counts."""

    impl = String
    cache_ok = True

    def load_dialect_impl(self, dialect: Dialect) -> TypeEngine[Any]:
        if dialect.name == "postgresql":
            return dialect.type_descriptor(Numeric(INDEX_DIGITS, 0))
        return dialect.type_descriptor(String(INDEX_DIGITS))

    def process_bind_param(self, value: int | None, dialect: Dialect) -> Any:
        if dialect.name == "postgresql":
            return None if value is None else Decimal(value)
        return None if value is None else f"{value:0{INDEX_DIGITS}d}"

    def process_result_value(self, value: Any, dialect: Dialect) -> int | None:  # noqa: ARG002  SQLAlchemy's signature
        return None if value is None else int(value)


ENTRIES = Table(
    "ledger_entries",
    MetaData(),
    Column("seq", BigInteger, primary_key=True, autoincrement=False),
    Column("kind", String(20), nullable=False),
    Column("series", Text, nullable=False),
    Column("first", Index, nullable=False),
    Column("last", Index, nullable=False),
    Column("job", Text, nullable=False),
    Column("run", Text, nullable=False),
    Column("operator", Text, nullable=False),
    Column("time", Text, nullable=False),
    Column("detail", Text, nullable=False),
    Column("once", Text),
    Column("previous", String(64), nullable=False),
    Column("hash", String(64), nullable=False),
)
