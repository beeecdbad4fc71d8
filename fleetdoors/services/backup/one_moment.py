"""All queries of a block see the database as it is at one moment, and nobody waits for them."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from django.db import connection, transaction


@contextmanager
def one_moment() -> Iterator[None]:
    """Read one state of the database until the block ends; others go on writing meanwhile."""
    if connection.vendor == "postgresql":
        with transaction.atomic(durable=True), connection.cursor() as cursor:
            cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ READ ONLY")
            yield
        return
    with connection.cursor() as cursor:
        # Not `atomic`: the settings let it take the lock for writing at once.
        cursor.execute("BEGIN DEFERRED")
        try:
            yield
        finally:
            cursor.execute("ROLLBACK")
