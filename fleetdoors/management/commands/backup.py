"""A consistent copy of everything in one file, made while people go on working."""

from __future__ import annotations

from argparse import ArgumentParser, RawDescriptionHelpFormatter
from pathlib import Path
from typing import Any

from django.core.management.base import CommandError
from django.utils import timezone

from fleetdoors.management.progress import Bar
from fleetdoors.management.record_command import RecordCommand
from fleetdoors.services.backup import make_backup

ABOUT = """\
Copy everything into one file: every table as it is at one moment, and the uploaded files. People
may go on working meanwhile. The file appears under its name when it is complete; until then, and
whatever fails, an older file of that name stays as it was.

It can be restored into SQLite or PostgreSQL, by this version of the program or a later one.
It holds the record, the names of people and the hashes of their passwords: keep it where only
administrators can read it. It does not hold SECRET_KEY: keep the data folder's secret_key, or the
one you set, in another place; without it people sign in anew.
"""


class Command(RecordCommand):
    """`backup FILE`."""

    help = ABOUT

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.formatter_class = RawDescriptionHelpFormatter
        parser.epilog = (
            "Exit status: 0 done, 1 not done with the reason, 2 wrong usage.\n"
            "Example: python manage.py backup /backups/fleetdoors.zip"
        )
        parser.add_argument("file", metavar="FILE", type=Path, help="the file to write")

    def handle(self, **options: Any) -> None:
        path: Path = options["file"].absolute()
        if path.is_dir() or not path.parent.is_dir():
            raise CommandError(
                f"FILE must be the name of a file in a folder that exists; got {options['file']}.",
                returncode=2,
            )
        bar = Bar()
        try:
            made = make_backup(path, made_at=timezone.now(), progress=bar)
        except OSError as why:
            still = " The file of that name is the older one, as it was." if path.exists() else ""
            raise CommandError(f"No backup was made: {why.strerror or why}.{still}") from why
        finally:
            bar.close()
        for name in made.missing_files:
            self.stderr.write(f"Not in the backup, because it is missing on disk: {name}")
        megabytes = path.stat().st_size / 1e6
        self.stdout.write(
            f"{made.rows:,} rows and {len(made.files):,} files in {path} ({megabytes:,.1f} MB)."
        )
