"""Print the same figures as the pages, for scripts."""

from __future__ import annotations

import csv
import json
from argparse import ArgumentParser, RawDescriptionHelpFormatter
from typing import Any

from django.utils import timezone

from analytics.figures import FIGURES
from analytics.figures.options import FLAGS, add_flags, name, read_question
from analytics.figures.record import Record
from analytics.figures.words import Row, Value
from fleetdoors.management.record_command import RecordCommand

FORMATS = ("json", "csv", "table")


class Command(RecordCommand):
    """`figures NAME [options]`."""

    help = "Print figures of the fleet: reliability, lives, usage, due dates, parts to buy."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.formatter_class = RawDescriptionHelpFormatter
        parser.epilog = "What each figure takes:\n" + "\n".join(
            f"  {figure:9} " + " ".join(flag for flag in FLAGS if name(flag) in module.TAKES)
            for figure, module in FIGURES.items()
        )
        parser.add_argument("figure", metavar="NAME", choices=FIGURES, help=", ".join(FIGURES))
        parser.add_argument("--format", choices=FORMATS, default="table", help="default table")
        add_flags(parser)

    def handle(self, *_args: str, **options: Any) -> None:
        figure = FIGURES[options["figure"]]
        given = {name(flag): options[name(flag)] for flag in FLAGS}
        question = read_question(given, figure.TAKES, timezone.now())
        rows: list[Row] = figure.rows(Record(question))
        printers = {"json": self._print_json, "csv": self._print_csv, "table": self._print_table}
        printers[options["format"]](figure.KEYS, rows)

    def _print_json(self, keys: tuple[str, ...], rows: list[Row]) -> None:
        ordered = [{key: row[key] for key in keys} for row in rows]
        self.stdout.write(json.dumps(ordered, allow_nan=False, ensure_ascii=False))

    def _print_csv(self, keys: tuple[str, ...], rows: list[Row]) -> None:
        writer = csv.DictWriter(self.stdout, keys, lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)

    def _print_table(self, keys: tuple[str, ...], rows: list[Row]) -> None:
        table = [list(keys), *([_shown(row[key]) for key in keys] for row in rows)]
        widths = [max(len(line[k]) for line in table) for k in range(len(keys))]
        for line in table:
            cells = (cell.ljust(width) for cell, width in zip(line, widths, strict=True))
            self.stdout.write("  ".join(cells).rstrip())


def _shown(value: Value) -> str:
    if value is None:
        return "-"
    return f"{value:.4g}" if isinstance(value, float) and abs(value) < 1_000 else (
        f"{value:.0f}" if isinstance(value, float) else str(value)
    )  # fmt: skip
