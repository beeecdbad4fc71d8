"""Rebuild every derived table."""

from __future__ import annotations

import sys
from argparse import ArgumentParser
from time import perf_counter
from typing import Any

from django.core.management.base import CommandError
from django.utils import timezone
from tqdm import tqdm

from analytics.datasets.clock import AsOf
from analytics.figures.options import WrongUsageError, read_date
from analytics.models import Computation
from analytics.recompute import recompute_doors, recompute_fleet, recompute_stale
from fleetdoors.management.record_command import RecordCommand
from fleetdoors.models import Depot, DoorUnit, Mounting


class Command(RecordCommand):
    """`recompute [--depot CODE] [--as-of DATE]`."""

    help = (
        "Rebuild every derived table: due dates, suspect readings, lives, parts outlook. "
        "With --depot, the doors of that depot inside the figures that are shown."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--depot", metavar="CODE", help="only the doors of this depot")
        parser.add_argument(
            "--as-of", metavar="DATE", help="as it was known at the start of that day"
        )

    def handle(self, *_args: str, **options: Any) -> None:
        now, given = timezone.now(), options["as_of"]
        as_of: AsOf = now if given is None else read_date("--as-of", given)
        clock = perf_counter()
        doors = (
            self._whole(as_of) if options["depot"] is None else self._depot(options["depot"], as_of)
        )
        self.stdout.write(f"{doors:,} doors in {perf_counter() - clock:.1f} s.")

    def _whole(self, as_of: AsOf) -> int:
        with tqdm(total=100, unit="%", disable=not sys.stderr.isatty(), leave=False) as bar:

            def show(step: str, percent: int) -> None:
                bar.set_description(step)
                bar.update(percent - bar.n)

            run = recompute_fleet(as_of=as_of, started_at=timezone.now(), progress=show)
        if run.as_of_on is None:
            recompute_stale(as_of=as_of)
        return run.doors

    def _depot(self, code: str, as_of: AsOf) -> int:
        depot = Depot.objects.filter(code=code).first()
        if depot is None:
            known = ", ".join(Depot.objects.order_by("code").values_list("code", flat=True))
            raise WrongUsageError(f"--depot must be one of {known}; got {code!r}.")
        if not Computation.objects.current().exists():
            raise CommandError("No figures exist yet: run recompute without --depot first.")
        there = Mounting.objects.open().filter(truck__depot=depot).values("door")
        doors = list(DoorUnit.objects.filter(pk__in=there).values_list("pk", flat=True))
        return recompute_doors(doors, as_of=as_of)
