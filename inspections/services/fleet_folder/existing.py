"""What the database holds already, in the words of the folder."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from typing import Any

from django.db.models import QuerySet

from inspections.services.fleet_folder.columns import Table
from inspections.services.fleet_folder.stay_tables import FITMENTS
from inspections.services.fleet_folder.tables import TABLES

# Below this many doors only their rows are fetched; above, fetching all is cheaper.
FEW_DOORS = 500
# When a row was entered says nothing of what it is about.
BOOKKEEPING = ("entered_at", "end_entered_at")
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
    rows = table.model._default_manager.all()
    if table is FITMENTS:
        rows = rows.filter(superseded_at__isnull=True)
    at = _key_places(table)
    return {tuple(row[i] for i in at): row for row in _values(table, rows)}


def stays_taken_back() -> dict[Key, list[StoredRow]]:
    """Stays of parts that are in force no more, by what identifies them; queries once."""
    rows = FITMENTS.model._default_manager.filter(superseded_at__isnull=False)
    at, found = _key_places(FITMENTS), dict[Key, list[StoredRow]]()
    for row in _values(FITMENTS, rows):
        found.setdefault(tuple(row[i] for i in at), []).append(row)
    return found


def says_what_was_taken_back(row: Mapping[str, Any], before: Iterable[StoredRow]) -> bool:
    """Whether a row of a file says no more than one that was taken back since."""
    names = [c.name for c in FITMENTS.stored if c.name not in BOOKKEEPING]
    at = {c.name: place for place, c in enumerate(FITMENTS.stored, start=1)}
    return any(all(row[n] is None or row[n] == old[at[n]] for n in names) for old in before)


def _key_places(table: Table) -> list[int]:
    names = [column.name for column in table.stored]
    return [names.index(name) + 1 for name in table.key]


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
