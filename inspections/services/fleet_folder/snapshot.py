"""Reads many tables as they stood at one moment, without keeping anybody from writing."""

from collections.abc import Iterator
from contextlib import contextmanager

from django.db import connection, transaction


@contextmanager
def one_snapshot() -> Iterator[None]:
    """Let every read inside see the same moment."""
    if connection.in_atomic_block:
        yield
    elif connection.vendor == "sqlite":
        # Not `atomic`: our transactions take the lock for writing when they begin.
        connection.ensure_connection()
        with connection.cursor() as cursor:
            cursor.execute("BEGIN DEFERRED")
            try:
                yield
            finally:
                cursor.execute("ROLLBACK")
    else:
        with transaction.atomic(), connection.cursor() as cursor:
            cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ")
            yield
