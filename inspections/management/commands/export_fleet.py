"""Writes the whole fleet as a fleet folder that can be imported again."""

import sys
from argparse import ArgumentParser, RawDescriptionHelpFormatter
from pathlib import Path
from typing import Any

from fleetdoors.management.progress import Bar
from fleetdoors.management.record_command import RecordCommand
from inspections.services.fleet_folder.exporting import export_fleet
from inspections.services.fleet_folder.targets import TargetRefusedError

REFUSED = 1

ABOUT = """\
Write the fleet and its record into FOLDER, in the form that import_fleet takes; importing it into
an empty database gives the same figures. A name that ends in .zip or .xlsx makes one file instead.

Not in it, and kept by the command backup: whatever people sign in with, photos and documents,
calendars, claims against suppliers, and counts of what lies in a van.
"""

EXAMPLE = """\
A folder must be new or empty; a file must be new. Exit status: 0 done, 1 refused, 2 wrong usage.
Example: python manage.py export_fleet /tmp/fleet
"""


class Command(RecordCommand):
    """Exports the fleet."""

    help = ABOUT

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.formatter_class = RawDescriptionHelpFormatter
        parser.epilog = EXAMPLE
        parser.add_argument("folder", metavar="FOLDER", type=Path, help="folder, .zip or .xlsx")

    def handle(self, **options: Any) -> None:
        bar = Bar()
        try:
            rows = export_fleet(options["folder"], progress=bar)
        except TargetRefusedError as error:
            self.stderr.write(str(error))
            sys.exit(REFUSED)
        finally:
            bar.close()
        for table, count in rows.items():
            if count:
                self.stdout.write(f"{table:18}{count:>10,}")
        self.stdout.write(f"Written to {options['folder']}.")
