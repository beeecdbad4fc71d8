"""What every command on the record does first: it looks whether the tables are there."""

from typing import Any

from django.core.management import CommandError, call_command
from django.core.management.base import BaseCommand
from django.db import connection
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
        return super().execute(*args, **options)
