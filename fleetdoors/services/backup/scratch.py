"""A database beside the one in use: filled at leisure, then put in its place in one step.

Until that step nobody sees anything of it, and whatever fails leaves the one in use as it is.
SQLite: a second file, copied over the first as a single transaction of SQLite's own. PostgreSQL:
a second schema, whose tables are moved in one transaction.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Protocol

from django.db import DEFAULT_DB_ALIAS, connection, connections, transaction

SCHEMA = "fleetdoors_restoring"
# How long the last step waits for those who are writing.
_PATIENCE_SECONDS = 60.0


class Scratch(Protocol):
    """The database beside the one in use."""

    def take_the_place(self) -> None:
        """Put it in the place of the one in use: wholly or not at all."""


@contextmanager
def scratch_database() -> Iterator[Scratch]:
    """Lead every query of this process to an empty database until the block ends."""
    beside = _schema_beside if connection.vendor == "postgresql" else _file_beside
    with beside() as scratch:
        yield scratch


@contextmanager
def _connected_with(**changed: Any) -> Iterator[None]:
    """Queries use a connection with other settings until the block ends."""
    usual = {name: connection.settings_dict[name] for name in changed}
    _connect_anew(changed)
    try:
        yield
    finally:
        _connect_anew(usual)


def _connect_anew(changed: dict[str, Any]) -> None:
    """Take a new connection: the old one may stand in a transaction that broke."""
    connection.close()
    connection.settings_dict.update(changed)
    del connections[DEFAULT_DB_ALIAS]


@dataclass(frozen=True)
class _File:
    used: Path
    beside: Path

    def take_the_place(self) -> None:
        connection.close()
        with (
            closing(sqlite3.connect(self.beside)) as source,
            closing(sqlite3.connect(self.used, timeout=_PATIENCE_SECONDS)) as target,
        ):
            source.backup(target)


@contextmanager
def _file_beside() -> Iterator[Scratch]:
    used = Path(connection.settings_dict["NAME"])
    beside = used.with_name(f".{used.name}.restoring")
    _remove(beside)
    try:
        with _connected_with(NAME=str(beside)):
            yield _File(used, beside)
    finally:
        _remove(beside)


def _remove(file: Path) -> None:
    for ending in ("", "-wal", "-shm", "-journal"):
        file.with_name(file.name + ending).unlink(missing_ok=True)


@dataclass(frozen=True)
class _Schema:
    used: str

    def take_the_place(self) -> None:
        ours = set(connection.introspection.table_names())
        with transaction.atomic(), connection.cursor() as cursor:
            cursor.execute("SET LOCAL lock_timeout = %s", [f"{_PATIENCE_SECONDS:.0f}s"])
            for table in sorted(ours):
                name = connection.ops.quote_name(table)
                cursor.execute(f"DROP TABLE IF EXISTS {self.used}.{name} CASCADE")
            for table in sorted(ours):
                name = connection.ops.quote_name(table)
                cursor.execute(f"ALTER TABLE {SCHEMA}.{name} SET SCHEMA {self.used}")


@contextmanager
def _schema_beside() -> Iterator[Scratch]:
    with connection.cursor() as cursor:
        cursor.execute("SELECT current_schema()")
        used = connection.ops.quote_name(cursor.fetchone()[0])
        # One that a killed restore left behind goes first.
        cursor.execute(f"DROP SCHEMA IF EXISTS {SCHEMA} CASCADE")
        cursor.execute(f"CREATE SCHEMA {SCHEMA}")
    options = connection.settings_dict["OPTIONS"]
    given = f"{options.get('options', '')} -c search_path={SCHEMA}".strip()
    try:
        with _connected_with(OPTIONS={**options, "options": given}):
            yield _Schema(used)
    finally:
        with connection.cursor() as cursor:
            cursor.execute(f"DROP SCHEMA IF EXISTS {SCHEMA} CASCADE")
