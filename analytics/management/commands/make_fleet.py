"""Writes a made-up fleet with known truth, to try the program on or to check its figures."""

import sys
from argparse import ArgumentParser, RawDescriptionHelpFormatter
from datetime import date
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from tqdm import tqdm

from analytics.synthetic.fleet import DEFAULT_UNTIL, FleetPlan
from analytics.synthetic.folder import FleetCounts, FolderNotEmptyError, write_fleet
from analytics.synthetic.scenario import SCENARIOS

REFUSED, WRONG_USAGE = 1, 2

ABOUT = """\
Write a made-up fleet of truck doors into FOLDER, as tables that import_fleet takes.

All names and data are invented. The same options give the same bytes, on any day.
FOLDER/truth/ tells what is really so: true part lives, true cycles, which readings are
wrong, and what happens after the record ends. An import does not look there.

Scenarios:
""" + "\n".join(f"  {world.name:14}{world.summary}" for world in SCENARIOS.values())

EXAMPLE = """\
Example: python manage.py make_fleet /tmp/fleet --doors 200 --days 730 --seed 7
Exit status: 0 done, 1 refused with the reason, 2 wrong usage.
"""


class Command(BaseCommand):
    """Makes a synthetic fleet folder."""

    help = ABOUT

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.formatter_class = RawDescriptionHelpFormatter
        parser.epilog = EXAMPLE
        parser.add_argument("folder", metavar="FOLDER", type=Path, help="a new or empty folder")
        parser.add_argument("--doors", type=int, required=True, metavar="N", help="how many doors")
        parser.add_argument(
            "--days", type=int, required=True, metavar="D", help="length of the record, 30 or more"
        )
        parser.add_argument(
            "--seed", type=int, required=True, metavar="S", help="any whole number from 0"
        )
        parser.add_argument(
            "--scenario", choices=[*SCENARIOS], default="steady", help="the world (default steady)"
        )
        parser.add_argument(
            "--until",
            type=date.fromisoformat,
            default=DEFAULT_UNTIL,
            metavar="DATE",
            help=f"last day of the record, YYYY-MM-DD (default {DEFAULT_UNTIL}, not today)",
        )
        parser.add_argument(
            "--readings-per-door",
            type=float,
            metavar="K",
            help="about how many counter readings each door has on average (default days / 20)",
        )
        parser.add_argument(
            "--future-days",
            type=int,
            default=182,
            metavar="F",
            help="how long truth/ goes on after the record's end (default 182)",
        )

    def handle(self, **options: Any) -> None:
        try:
            plan = FleetPlan(
                doors=options["doors"],
                days=options["days"],
                seed=options["seed"],
                scenario=options["scenario"],
                until=options["until"],
                readings_per_door=options["readings_per_door"],
                future_days=options["future_days"],
            )
        except ValueError as error:
            raise CommandError(str(error), returncode=WRONG_USAGE) from error
        with tqdm(total=plan.doors, unit="door", disable=not sys.stderr.isatty()) as bar:
            counts = self.write(options["folder"], plan, bar)
        rows = {name: many for name, many in counts.rows.items() if "/" not in name and many}
        told = ", ".join(f"{many:,} {name}" for name, many in rows.items())
        self.stdout.write(f"Made {options['folder']}: {told}. Truth lies in its folder truth.")

    def write(self, folder: Path, plan: FleetPlan, bar: Any) -> FleetCounts:
        """Write the fleet, turning what the disk refuses into a reason."""
        try:
            return write_fleet(folder, plan, on_block=bar.update)
        except (FolderNotEmptyError, OSError) as error:
            raise CommandError(str(error), returncode=REFUSED) from error
