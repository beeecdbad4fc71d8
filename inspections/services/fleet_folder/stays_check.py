"""Checks what must hold between the stays of counters and parts on one door."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Hashable, Iterable
from dataclasses import dataclass
from datetime import date
from itertools import pairwise

from django.utils.translation import gettext as _

from fleetdoors.models import Counter, DoorModel, DoorUnit, Fitment
from inspections.services.fleet_folder.errors import Problems
from inspections.services.fleet_folder.existing import (
    says_what_was_taken_back,
    stays_taken_back,
)
from inspections.services.fleet_folder.sheets import Sheet

DEFAULT_DIGITS = 6
Position = tuple[Hashable, ...]


@dataclass(frozen=True)
class CounterStay:
    """A counter's stay on a door, and the row that says so (none = the database)."""

    serial: str
    fitted_on: date
    removed_on: date | None
    row: int | None = None

    @property
    def end(self) -> date:
        """The last day, or the end of time."""
        return self.removed_on or date.max


def check_counters(sheet: Sheet, digits: dict[str, int], problems: Problems) -> None:
    """A door has one counter at a time, and a counter shows no more digits than it has."""
    if not len(sheet):
        return
    stays = _recorded_counters()
    for number, row in sheet.rows():
        door, serial = row["door"], row["counter"]
        known = stays[door].get(serial)
        removed_on = row["removed_on"] or (known.removed_on if known else None)
        stays[door][serial] = CounterStay(serial, row["fitted_on"], removed_on, number)
        _check_digits(sheet, number, row, row["digits"] or digits[door], problems)
    for door in {door for door in sheet.column("door") if door}:
        _check_one_counter(sheet, list(stays[door].values()), problems)


def _recorded_counters() -> defaultdict[str, dict[str, CounterStay]]:
    stays: defaultdict[str, dict[str, CounterStay]] = defaultdict(dict)
    rows = Counter.objects.values_list("door__serial", "serial", "fitted_on", "removed_on")
    for door, serial, fitted_on, removed_on in rows.iterator(chunk_size=10_000):
        stays[door][serial] = CounterStay(serial, fitted_on, removed_on)
    return stays


def _check_one_counter(sheet: Sheet, stays: list[CounterStay], problems: Problems) -> None:
    ordered = sorted(stays, key=lambda stay: (stay.fitted_on, stay.end))
    for before, after in pairwise(ordered):
        late, early = (after, before) if after.row is not None else (before, after)
        if after.fitted_on < before.end and late.row is not None:
            problems.add(
                sheet.file,
                _("counter %(other)s is on the door at the same time: one counter at a time")
                % {"other": early.serial},
                row=late.row,
                column="counter",
                value=late.serial,
            )


def _check_digits(
    sheet: Sheet, number: int, row: dict[str, int | None], digits: int, problems: Problems
) -> None:
    for name in ("first_value", "last_value"):
        value = row[name]
        if value is not None and value >= 10**digits:
            problems.add(
                sheet.file,
                _("has more digits than the counter, which has %(digits)d") % {"digits": digits},
                row=number,
                column=name,
                value=value,
            )


def check_fitments(sheet: Sheet, problems: Problems) -> None:
    """A position holds one part at a time."""
    if not len(sheet):
        return
    names = ("door", "component", "position", "fitted_on", "fitted_at_cycles")
    open_stays: dict[Position, int | None] = {}
    closed: set[Position] = set()
    for door, code, position, fitted_on, cycles, removal in _recorded_fitments():
        key = (door, code, position or None, fitted_on, cycles)
        if removal:
            closed.add(key)
        else:
            open_stays[key] = None
    taken_back = stays_taken_back()
    for number, row in sheet.rows():
        key = tuple(row[name] for name in names)
        if says_what_was_taken_back(row, taken_back.get(key, ())):
            continue
        if row["removal"] is not None:
            open_stays.pop(key, None)
        elif key not in closed:
            open_stays[key] = number
    _check_one_part(sheet, open_stays, problems)


def _recorded_fitments() -> Iterable[tuple[str, str, str, date | None, int | None, str]]:
    return (
        Fitment.objects.in_force()
        .values_list(
            "door__serial",
            "component__code",
            "position",
            "fitted_on",
            "fitted_at_cycles",
            "removal",
        )
        .iterator(chunk_size=10_000)
    )


def _check_one_part(
    sheet: Sheet, open_stays: dict[Position, int | None], problems: Problems
) -> None:
    holder: dict[Position, Position] = {}
    for key, number in sorted(open_stays.items(), key=lambda item: item[1] or 0):
        other = holder.setdefault(key[:3], key)
        if other != key and number is not None:
            where = open_stays[other]
            problems.add(
                sheet.file,
                _("the position holds a part already (%(where)s): give its removal")
                % {"where": _("row %d") % where if where else _("in the database")},
                row=number,
                column="position",
                value=" ".join(str(part) for part in key[:3] if part),
            )


def digits_by_door(doors: Sheet, models: Sheet, counters: Sheet) -> dict[str, int]:
    """The most digits that any counter of a door can show."""
    model_digits = dict(DoorModel.objects.values_list("code", "counter_digits"))
    for code, given in zip(
        models.column("door_model"), models.column("counter_digits"), strict=True
    ):
        if code and (given or code not in model_digits):
            model_digits[code] = given or DEFAULT_DIGITS
    digits = {
        serial: model_digits.get(code, DEFAULT_DIGITS)
        for serial, code in DoorUnit.objects.values_list("serial", "door_model__code").iterator()
    }
    for door, code in zip(doors.column("door"), doors.column("door_model"), strict=True):
        if door:
            digits[door] = model_digits.get(code, DEFAULT_DIGITS)
    own = Counter.objects.filter(digits__isnull=False).values_list("door__serial", "digits")
    pairs = zip(counters.column("door"), counters.column("digits"), strict=True)
    for door, count in (*own, *pairs):
        if door and count:
            digits[door] = max(digits.get(door, 0), count)
    return digits
