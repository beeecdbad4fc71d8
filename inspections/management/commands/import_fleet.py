"""Imports a fleet folder: all of it, or nothing and every reason why."""

import csv
import json
import sys
from argparse import ArgumentParser, RawDescriptionHelpFormatter
from dataclasses import asdict
from pathlib import Path
from typing import Any

from django.core.management.base import CommandError
from django.utils import timezone

from fleetdoors.management.progress import Bar
from fleetdoors.management.record_command import RecordCommand
from inspections.services.fleet_folder.errors import SHOWN_PER_FILE, Problems
from inspections.services.fleet_folder.importing import Report, check_fleet, import_fleet
from inspections.services.fleet_folder.tables import TABLES

REFUSED = 1

ABOUT = f"""\
Import a fleet folder: a folder of CSV files, one .zip of such a folder, or one .xlsx workbook
with a sheet for each table. Nothing is written unless every row of every table is right; what is
wrong is reported with file, row, column, value and rule. Importing the same folder again changes
nothing and says so.

Tables: {", ".join(TABLES)}.
Every table may be absent; what it refers to must then be in the database already.
"""

EXAMPLE = """\
Rows are counted as a spreadsheet counts them: the header is row 1.
Exit status: 0 done, 1 refused with reasons, 2 wrong usage.
Example: python manage.py import_fleet /tmp/fleet --check
"""


class Command(RecordCommand):
    """Imports a fleet folder."""

    help = ABOUT

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.formatter_class = RawDescriptionHelpFormatter
        parser.epilog = EXAMPLE
        parser.add_argument("path", metavar="PATH", type=Path, help="folder, .zip or .xlsx")
        parser.add_argument(
            "--check", action="store_true", help="check and report only; write nothing"
        )
        parser.add_argument(
            "--format", choices=("text", "json"), default="text", help="how to report"
        )
        parser.add_argument(
            "--errors", metavar="FILE", type=Path, help="write every error to this CSV file"
        )

    def handle(self, **options: Any) -> None:
        bar = Bar()
        act = check_fleet if options["check"] else import_fleet
        report = act(options["path"], now=timezone.now(), progress=bar)
        bar.close()
        if options["errors"]:
            write_errors(options["errors"], report.problems)
        if options["format"] == "json":
            self.stdout.write(json.dumps(as_json(report), indent=2))
        else:
            self._say(report, is_check=options["check"])
        if report.refused:
            sys.exit(REFUSED)

    def _say(self, report: Report, *, is_check: bool) -> None:
        if report.refused:
            self._complain(report.problems)
            return
        self.stdout.write(f"{'table':18}{'read':>10}{'new':>10}{'changed':>10}", ending="")
        self.stdout.write(f"{'corrected':>11}{'unchanged':>11}")
        for count in report.counts:
            self.stdout.write(
                f"{count.table:18}{count.read:>10,}{count.new:>10,}{count.changed:>10,}"
                f"{count.corrected:>11,}{count.unchanged:>11,}"
            )
        if report.changes_nothing:
            self.stdout.write("Everything is in the database already: nothing changes.")
        elif is_check:
            self.stdout.write("No errors. Nothing was written: this was a check.")
        else:
            self.stdout.write("Imported.")

    def _complain(self, problems: Problems) -> None:
        for problem in problems.shown(SHOWN_PER_FILE):
            self.stderr.write(str(problem))
        for file, total in problems.by_file.items():
            if total > SHOWN_PER_FILE:
                self.stderr.write(f"{file}: {total - SHOWN_PER_FILE:,} more errors not shown")
        self.stderr.write(
            f"Refused with {len(problems):,} errors; nothing was written. "
            "Rows are counted with the header as row 1."
        )


def as_json(report: Report) -> dict[str, Any]:
    """The report as plain values."""
    return {
        "refused": report.refused,
        "changes_nothing": report.changes_nothing and not report.refused,
        "tables": [count.as_row() for count in report.counts],
        "errors_total": len(report.problems),
        "errors": [asdict(problem) for problem in report.problems],
    }


def write_errors(path: Path, problems: Problems) -> None:
    """Write every error that was kept as CSV."""
    try:
        with path.open("w", newline="", encoding="utf-8") as stream:
            writer = csv.writer(stream)
            writer.writerow(["file", "row", "column", "value", "rule"])
            writer.writerows((p.file, p.row, p.column, p.value, p.rule) for p in problems)
    except OSError as error:
        raise CommandError(
            f"--errors needs a file that can be written; {path} cannot: {error.strerror}",
            returncode=2,
        ) from error
