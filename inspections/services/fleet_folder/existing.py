"""What the database holds already, in the words of the folder."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from typing import Any

from django.db.models import QuerySet

from inspections.services.fleet_folder.columns import Table
from inspections.services.fleet_folder.tables import TABLES

# Below this many doors only their rows are fetched; above, fetching all is cheaper.
FEW_DOORS = 500
StoredRow = tuple[Any, ...]
Key = tuple[Any, ...]


def known_codes() -> dict[str, set[str]]:
    """Codes of every table that others refer to."""
    return {
        name: set(table.model._default_manager.values_list(table.columns[0].lookup, flat=True))
        for name, table in TABLES.items()
        if table.is_registry
    }


def keys_of(table: Table) -> dict[str, int]:
    """Primary key by code."""
    rows = table.model._default_manager.values_list(table.columns[0].lookup, "pk")
    return dict(rows.iterator(chunk_size=10_000))


def stored_rows(table: Table) -> dict[Key, StoredRow]:
    """Rows by what identifies them: the primary key, then the stored columns in their order."""
    names = [column.name for column in table.stored]
    at = [names.index(name) + 1 for name in table.key]
    return {tuple(row[i] for i in at): row for row in _values(table, table.model._default_manager)}


def recorded_rows(table: Table, doors: Collection[str]) -> Iterable[StoredRow]:
    """Rows of the doors, whether in force or corrected: primary key, then the stored columns."""
    rows = table.model._default_manager.all()
    if len(doors) <= FEW_DOORS:
        rows = rows.filter(door__serial__in=doors)
    return _values(table, rows)


def several_codes(table: Table, name: str) -> dict[int, tuple[str, ...]]:
    """Codes of a many-valued column, by primary key."""
    column = table.by_name[name]
    code = TABLES[column.refers_to].columns[0].lookup
    found: dict[int, list[str]] = {}
    pairs = table.model._default_manager.filter(**{f"{column.lookup}__isnull": False})
    for pk, value in pairs.values_list("pk", f"{column.lookup}__{code}"):
        found.setdefault(pk, []).append(value)
    return {pk: tuple(sorted(values)) for pk, values in found.items()}


def _values(table: Table, rows: Any) -> Iterable[StoredRow]:
    chosen: QuerySet[Any, Any] = rows.order_by("pk").values_list(
        "pk", *(column.lookup for column in table.stored)
    )
    for row in chosen.iterator(chunk_size=10_000):
        yield tuple(None if value == "" else value for value in row)
