"""Moves a fleet folder in time by whole weeks, so that weekdays stay what they were."""

import csv
from collections.abc import Iterator
from datetime import date, datetime, timedelta
from io import TextIOWrapper
from pathlib import Path
from typing import Final
from zipfile import ZipFile

from analytics.synthetic.layout import TABLES, Kind

PLANNED: Final = frozenset({"expected_on"})
"""Columns that speak of days to come."""


class UnknownTableError(Exception):
    """A table or column that a fleet folder does not have."""


def days_to_recent(latest: date, today: date) -> int:
    """Whole weeks, in days, after which `latest` lies 1 to 7 days before `today`.

    Never today itself: what happened that evening must not lie in the future this morning.
    """
    return ((today - latest).days - 1) // 7 * 7


def latest_day(source: Path) -> date:
    """Day of the newest thing that has happened in a fleet folder or zip."""
    newest = ""
    for table, columns, rows in tables_of(source):
        past = [name for name in columns if is_time(table, name) and name not in PLANNED]
        for row in rows:
            newest = max(newest, *(row[name][:10] for name in past), "")
    if not newest:
        raise ValueError(f"{source} must hold at least one date; it holds none")
    return date.fromisoformat(newest)


def shift_folder(source: Path, target: Path, days: int) -> None:
    """Copy the tables of a fleet folder or zip with every date and moment moved by whole weeks."""
    if days % 7:
        raise ValueError(f"days must be a multiple of 7 to keep weekdays; {days} is not")
    target.mkdir(parents=True, exist_ok=True)
    for table, columns, rows in tables_of(source):
        moved = [name for name in columns if is_time(table, name)]
        with (target / f"{table}.csv").open("w", encoding="utf-8", newline="") as file:
            out = csv.DictWriter(file, columns, lineterminator="\n")
            out.writeheader()
            for row in rows:
                row.update({name: moved_by(row[name], days) for name in moved})
                out.writerow(row)


def moved_by(cell: str, days: int) -> str:
    """One date or moment later by so many days; an empty cell stays empty."""
    if not cell:
        return cell
    if len(cell) == len("2026-03-01"):
        return (date.fromisoformat(cell) + timedelta(days)).isoformat()
    return (datetime.fromisoformat(cell) + timedelta(days)).isoformat(timespec="minutes")


def is_time(table: str, column: str) -> bool:
    return kind_of(table, column) in ("date", "moment")


def kind_of(table: str, column: str) -> Kind:
    if column not in TABLES.get(table, {}):
        raise UnknownTableError(f"{table}.{column} must be a column of the fleet folder; it is not")
    return TABLES[table][column]


def tables_of(source: Path) -> Iterator[tuple[str, list[str], Iterator[dict[str, str]]]]:
    """Name, columns and rows of every table at the top of a folder or zip, by name."""
    if source.is_dir():
        for path in sorted(source.glob("*.csv")):
            with path.open(encoding="utf-8", newline="") as file:
                reader = csv.DictReader(file)
                yield path.stem, list(reader.fieldnames or []), reader
        return
    with ZipFile(source) as archive:
        for name in sorted(name for name in archive.namelist() if name.endswith(".csv")):
            with TextIOWrapper(archive.open(name), encoding="utf-8", newline="") as file:
                reader = csv.DictReader(file)
                yield Path(name).stem, list(reader.fieldnames or []), reader
