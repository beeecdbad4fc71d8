"""Puts what a backup holds in the place of what the database holds."""

from __future__ import annotations

from argparse import ArgumentParser, RawDescriptionHelpFormatter
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from fleetdoors.management.progress import Bar
from fleetdoors.services.backup import BackupRefusedError, restore_backup

ABOUT = """\
Restore a file made by `backup`: all of it, or nothing and the reason. The file is checked whole
before anything is touched, filled in beside the database, brought forward by the migrations that
this version has more, and put in place in one step. It takes about as much room on the disk again
as the database.

A database that holds anything is refused without --replace. A file made by a newer version, and
one that is damaged, are refused always. Restore only files that you trust.
"""


class Command(BaseCommand):
    """`restore FILE [--replace]`."""

    help = ABOUT

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.formatter_class = RawDescriptionHelpFormatter
        parser.epilog = (
            "Exit status: 0 done, 1 refused with the reason, 2 wrong usage.\n"
            "Example: python manage.py restore /backups/fleetdoors.zip --replace"
        )
        parser.add_argument("file", metavar="FILE", type=Path, help="the file to read")
        parser.add_argument(
            "--replace", action="store_true", help="replace what the database holds"
        )

    def handle(self, **options: Any) -> None:
        path: Path = options["file"]
        if not path.is_file():
            raise CommandError(f"FILE must name a file that exists; got {path}.", returncode=2)
        bar = Bar()
        try:
            restored = restore_backup(path, replace=options["replace"], progress=bar)
        except BackupRefusedError as why:
            raise CommandError(str(why)) from why
        finally:
            bar.close()
        for name in restored.missing_files:
            self.stderr.write(f"Missing since before the backup: {name}")
        self.stdout.write(
            f"{restored.rows:,} rows and {len(restored.files):,} files, as they were at "
            f"{restored.made_at}. Figures are those of the backup: run recompute for today's."
        )
