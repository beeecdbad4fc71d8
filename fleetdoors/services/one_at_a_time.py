"""Work that must not run twice at once, on whichever host it was started."""

from __future__ import annotations

import fcntl
import zlib
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from django.conf import settings
from django.db import Error, connection


@contextmanager
def one_at_a_time(name: str) -> Iterator[None]:
    """Wait until nobody else does what has this name; who breaks off makes room at once.

    On PostgreSQL the database keeps order between hosts. An SQLite file belongs to one host, whose
    own file lock does it.
    """
    keep_order = _by_database if connection.vendor == "postgresql" else _by_file
    with keep_order(name):
        yield


@contextmanager
def _by_database(name: str) -> Iterator[None]:
    key = zlib.crc32(f"fleetdoors {name}".encode())
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_advisory_lock(%s)", [key])
    try:
        yield
    finally:
        # A connection that was lost has given up the lock already.
        with suppress(Error), connection.cursor() as cursor:
            cursor.execute("SELECT pg_advisory_unlock(%s)", [key])


@contextmanager
def _by_file(name: str) -> Iterator[None]:
    with (Path(settings.DATA_DIR) / f"{name}.lock").open("w") as file:
        fcntl.flock(file, fcntl.LOCK_EX)
        yield
