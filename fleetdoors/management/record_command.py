"""What every command on the record does first: it looks whether the tables are there."""

from typing import Any

from django.core.management import CommandError, call_command
from django.core.management.base import BaseCommand
from django.db import OperationalError, connection
from django.db.migrations.executor import MigrationExecutor


class RecordCommand(BaseCommand):
    """A command that reads or writes the record.

    A new database gets its tables; one that an older version left behind is refused, because
    bringing it forward is a step that somebody takes after a backup.
    """

    def execute(self, *args: Any, **options: Any) -> str | None:
        executor = MigrationExecutor(connection)
        if not executor.loader.applied_migrations:
            call_command("migrate", verbosity=0)
        elif executor.migration_plan(executor.loader.graph.leaf_nodes()):
            raise CommandError(
                "The database is older than the program; nothing was done. Make a backup, then "
                "run: python manage.py migrate"
            )
        try:
            return super().execute(*args, **options)
        except OperationalError as why:
            # The last line of the reason: the driver repeats itself before it.
            reason = str(why).strip().splitlines()[-1] if str(why).strip() else type(why).__name__
            raise CommandError(
                f"The database broke off: {reason}. What was not complete was not written; "
                "run the command again."
            ) from why
