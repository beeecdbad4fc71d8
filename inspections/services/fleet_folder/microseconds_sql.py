"""Makes a moment a number in SQL, so that no Python object is made for it."""

from typing import Any

from django.db.models import BigIntegerField, Func


class Microseconds(Func):
    """A moment as microseconds since 1970; NULL stays NULL."""

    output_field = BigIntegerField()

    def as_sqlite(self, compiler: Any, connection: Any, **_extra: Any) -> Any:
        """SQLite keeps a moment as text, whose fraction starts at the 21st sign.

        The fraction is cut off before the seconds are counted: SQLite would round them.
        """
        return self.as_sql(
            compiler,
            connection,
            template="(CAST(strftime('%%%%s', substr(%(expressions)s, 1, 19)) AS INTEGER) * 1000000"
            " + CAST(substr(%(expressions)s, 21) AS INTEGER))",
        )

    def as_postgresql(self, compiler: Any, connection: Any, **_extra: Any) -> Any:
        """PostgreSQL counts its own moments in microseconds."""
        return self.as_sql(
            compiler,
            connection,
            template="(EXTRACT(EPOCH FROM %(expressions)s) * 1000000)::bigint",
        )
