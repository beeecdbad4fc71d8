"""Measure what the methods are claimed to do."""

from __future__ import annotations

import sys
from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand
from tqdm import tqdm

from analytics.proof import libraries
from analytics.proof.claim import FULL, QUICK, Claim
from analytics.proof.groups import GROUPS, table


class Command(BaseCommand):
    """`prove [--only NAME] [--quick]`; exit code 1 if a claim does not hold."""

    help = (
        "Simulate fleets with known truth from fixed seeds, work published examples again, and "
        "print what is claimed of each method beside what was measured. Touches no record."
    )

    # Pure arithmetic: it must run whatever state the database and the pages are in.
    requires_system_checks = ()

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--only", choices=GROUPS, help="this group of claims alone")
        parser.add_argument("--quick", action="store_true", help="a quarter of the simulations")

    def handle(self, *_args: str, **options: Any) -> None:
        names = [options["only"]] if options["only"] else list(GROUPS)
        effort = QUICK if options["quick"] else FULL
        found: list[Claim] = []
        for name in tqdm(names, disable=not sys.stderr.isatty(), leave=False):
            found += GROUPS[name](effort)
        for line in table(found):
            self.stdout.write(line)
        if "libraries" in names and libraries.missing():
            absent = ", ".join(libraries.missing())
            self.stdout.write(f"Not compared with other libraries: {absent} not installed.")
        failed = sum(not claim.holds for claim in found)
        self.stdout.write(f"{len(found) - failed} of {len(found)} claims hold.")
        if failed:
            sys.exit(1)
