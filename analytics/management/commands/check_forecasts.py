"""Repeat past forecasts and keep how good they were."""

from __future__ import annotations

from argparse import ArgumentParser
from datetime import datetime, time
from time import perf_counter
from typing import Any

from django.core.management.base import BaseCommand
from django.utils import timezone

from analytics.checking import check_forecasts
from analytics.figures.options import read_date


class Command(BaseCommand):
    """`check_forecasts [--as-of DATE]`."""

    help = (
        "Repeat the forecasts of past dates from what was known then, hold them against what "
        "happened, and learn how much faster parts fail than their age says. Once a month will do."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--as-of", metavar="DATE", help="as it was known at that day's start")

    def handle(self, *_args: str, **options: Any) -> None:
        now, clock = timezone.now(), perf_counter()
        as_of = now
        if options["as_of"] is not None:
            on = read_date("--as-of", options["as_of"])
            as_of = timezone.make_aware(datetime.combine(on, time()))
        check = check_forecasts(as_of=as_of, started_at=now)
        self.stdout.write(
            f"{check.origins} past dates, {check.doors:,} doors in {perf_counter() - clock:.1f} s."
        )
