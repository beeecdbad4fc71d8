"""Values as a backup writes them, the same from either database, and as each database takes them.

Numbers, truth values and text are JSON's own; dates, times, UUIDs, decimals and moments are text,
moments in UTC, as in 2026-03-01 07:40:00+00:00.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import UTC, date, datetime, time
from decimal import Decimal
from typing import Any
from uuid import UUID

from django.db import connection
from django.db.models import Field

Reshape = Callable[[Any], Any]
_ZONE = "+00:00"

# What may stand in a column; a new kind of column has to be thought about here first.
PLAIN = {
    "AutoField",
    "BigAutoField",
    "BooleanField",
    "CharField",
    "DateField",
    "DecimalField",
    "FileField",
    "FloatField",
    "ForeignKey",
    "GenericIPAddressField",
    "IntegerField",
    "OneToOneField",
    "PositiveBigIntegerField",
    "PositiveIntegerField",
    "PositiveSmallIntegerField",
    "SlugField",
    "SmallIntegerField",
    "BigIntegerField",
    "TextField",
    "TimeField",
}
RESHAPED = {"DateTimeField", "JSONField", "UUIDField"}


def _as_text(value: object) -> str:
    if isinstance(value, datetime):
        return str(value.astimezone(UTC))
    if isinstance(value, date | time):
        return value.isoformat()
    if isinstance(value, Decimal | UUID):
        return str(value)
    raise TypeError(f"A backup has no form for {type(value).__name__}.")


# Made once: `json.dumps` would make one for each row.
_ENCODE = json.JSONEncoder(
    ensure_ascii=False, separators=(",", ":"), default=_as_text, check_circular=False
).encode


def line_of(row: tuple[Any, ...]) -> str:
    """One row as a line."""
    return _ENCODE(row) + "\n"


def reshapers(fields: list[Field]) -> list[tuple[int, Reshape]]:
    """By place in the row, what the present database wants done to a value that is not None."""
    found: list[tuple[int, Reshape]] = []
    for place, each in enumerate(fields):
        kind = each.get_internal_type()
        if kind not in PLAIN | RESHAPED:
            raise TypeError(f"A backup has no form for a column of the kind {kind}: {each}.")
        if kind == "JSONField":
            found.append((place, json.dumps))
        elif connection.vendor == "sqlite" and kind == "DateTimeField":
            found.append((place, _without_zone))
        elif connection.vendor == "sqlite" and kind == "UUIDField":
            found.append((place, _without_hyphens))
    return found


def _without_zone(moment: str) -> str:
    """A moment as Django writes it into SQLite."""
    return moment.removesuffix(_ZONE)


def _without_hyphens(uuid: str) -> str:
    return uuid.replace("-", "")


def row_of(line: bytes, reshaped: list[tuple[int, Reshape]]) -> list[Any]:
    """The values of a line, as the present database takes them."""
    row: list[Any] = json.loads(line)
    for place, reshape in reshaped:
        if row[place] is not None:
            row[place] = reshape(row[place])
    return row
