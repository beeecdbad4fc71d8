"""Brings together what `doors.truck` and the mountings say about which door was on which truck.

A door without `mounted_on` is mounted since its last removal, else since its record began, else
since its truck came into service, else since 1970-01-01, which stands for "always".
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date
from itertools import pairwise
from typing import Any

from django.utils.translation import gettext as _

from fleetdoors.models import Mounting
from inspections.services.fleet_folder.errors import Problems
from inspections.services.fleet_folder.keyed_plan import Row
from inspections.services.fleet_folder.sheets import Sheet
from inspections.services.fleet_folder.stay_tables import MOUNTINGS

SINCE_ALWAYS = date(1970, 1, 1)


@dataclass(frozen=True)
class Stay:
    """A door's stay on a truck, and the row of the folder that says so (none = the database)."""

    door: str
    truck: str
    mounted_on: date
    removed_on: date | None
    file: str = ""
    row: int | None = None


@dataclass(frozen=True)
class Dates:
    """Dates that stand in for a mounting's own, by door and by truck."""

    record_from: dict[str, date | None]
    in_service_on: dict[str, date | None]
    retired_on: dict[str, date | None]


class Mountings:
    """Mountings of the database and the folder, as they stand after the import."""

    def __init__(self, dates: Dates, problems: Problems, today: date) -> None:
        self.dates = dates
        self.problems = problems
        self.today = today
        self.stays = {(stay.door, stay.mounted_on): stay for stay in _recorded()}
        self.listed: set[tuple[str, date]] = set()
        self.of_door: defaultdict[str, list[Stay]] = defaultdict(list)
        for stay in self.stays.values():
            self.of_door[stay.door].append(stay)

    def take_mountings(self, sheet: Sheet) -> None:
        """Lay the mountings of the folder over those of the database."""
        for number, row in sheet.rows():
            self.listed.add((row["door"], row["mounted_on"]))
            self._put(_stay(row, sheet.file, number))

    def settle(self, sheet: Sheet) -> None:
        """Give the listed mountings the end that the record or a retirement gives them."""
        sheet.values["removed_on"] = [
            self.stays[door, day].removed_on if (door, day) in self.stays else None
            for door, day in zip(sheet.column("door"), sheet.column("mounted_on"), strict=True)
        ]

    def take_doors(self, sheet: Sheet) -> Sheet:
        """Turn the present truck of each door into mountings that nobody else has said yet."""
        derived = Sheet(MOUNTINGS, sheet.file)
        said: list[Stay] = []
        for number, row in sheet.rows():
            said.extend(self._said_by_door(row, sheet.file, number))
        said = [stay for stay in said if (stay.door, stay.mounted_on) not in self.listed]
        derived.numbers = [stay.row or 0 for stay in said]
        for name in ("door", "truck", "mounted_on", "removed_on"):
            derived.values[name] = [getattr(stay, name) for stay in said]
        return derived

    def check_overlaps(self) -> None:
        """A door is on one truck at a time, and a truck has one door at a time."""
        touched = [stay for stay in self.stays.values() if stay.row is not None]
        doors, trucks = {stay.door for stay in touched}, {stay.truck for stay in touched}
        by_door = (stay for stay in self.stays.values() if stay.door in doors)
        by_truck = (stay for stay in self.stays.values() if stay.truck in trucks)
        self._check_one_at_a_time(by_door, "door")
        self._check_one_at_a_time(by_truck, "truck")

    def _said_by_door(self, row: Row, file: str, number: int) -> list[Stay]:
        door, truck, mounted_on = row["door"], row["truck"], row["mounted_on"]
        if mounted_on and not truck:
            self._refuse(file, number, "mounted_on", _("needs a truck"), mounted_on)
            return []
        open_stay = next((s for s in self.of_door[door] if s.removed_on is None), None)
        said = []
        if truck and self._is_news(row, open_stay):
            said = self._present(row, file, number, open_stay)
        return self._retired(door, said, file, number)

    def _is_news(self, row: Row, open_stay: Stay | None) -> bool:
        """Whether the door's present truck is not on record yet."""
        if open_stay is not None:
            return open_stay.truck != row["truck"] or row["mounted_on"] not in (
                None,
                open_stay.mounted_on,
            )
        retired_on = self.dates.retired_on.get(row["door"])
        latest = max(self.of_door[row["door"]], key=lambda s: s.mounted_on, default=None)
        return not (
            retired_on
            and latest
            and latest.truck == row["truck"]
            and row["mounted_on"] in (None, latest.mounted_on)
        )

    def _present(self, row: Row, file: str, number: int, open_stay: Stay | None) -> list[Stay]:
        """The present mounting, and the end of the one before."""
        mounted_on = row["mounted_on"] or self._default_day(row["door"], row["truck"])
        present = Stay(row["door"], row["truck"], mounted_on, None, file, number)
        if open_stay is None:
            return [self._put(present)]
        if open_stay.row is not None or open_stay.truck == row["truck"]:
            self._refuse(
                file,
                number,
                "truck",
                _("disagrees with the mounting on truck %(truck)s since %(day)s")
                % {"truck": open_stay.truck, "day": open_stay.mounted_on},
                row["truck"],
            )
            return []
        if row["mounted_on"] is None or row["mounted_on"] < open_stay.mounted_on:
            self._refuse(
                file,
                number,
                "mounted_on",
                _("the door is on truck %(truck)s since %(day)s; a move needs a later mounted_on")
                % {"truck": open_stay.truck, "day": open_stay.mounted_on},
                row["mounted_on"],
            )
            return []
        ended = replace(open_stay, removed_on=mounted_on, file=file, row=number)
        return [self._put(ended), self._put(present)]

    def _default_day(self, door: str, truck: str) -> date:
        removals = [stay.removed_on for stay in self.of_door[door] if stay.removed_on]
        return (
            max(removals, default=None)
            or self.dates.record_from.get(door)
            or self.dates.in_service_on.get(truck)
            or SINCE_ALWAYS
        )

    def _retired(self, door: str, said: list[Stay], file: str, number: int) -> list[Stay]:
        """A door that has retired is on no truck any more."""
        retired_on = self.dates.retired_on.get(door)
        open_stay = next((s for s in self.of_door[door] if s.removed_on is None), None)
        if retired_on is None or retired_on > self.today or open_stay is None:
            return said
        if retired_on < open_stay.mounted_on:
            self._refuse(
                file,
                number,
                "retired_on",
                _("the door is mounted on truck %(truck)s since %(day)s, later than it retired")
                % {"truck": open_stay.truck, "day": open_stay.mounted_on},
                retired_on,
            )
            return said
        ended = self._put(replace(open_stay, removed_on=retired_on, file=file, row=number))
        return [stay for stay in said if stay.mounted_on != ended.mounted_on] + [ended]

    def _put(self, stay: Stay) -> Stay:
        """Lay a stay over what was known of the same one; an end once known stays."""
        known = self.stays.get((stay.door, stay.mounted_on))
        if known is not None and stay.removed_on is None:
            stay = replace(stay, removed_on=known.removed_on)
        self.stays[stay.door, stay.mounted_on] = stay
        self.of_door[stay.door] = [
            other for other in self.of_door[stay.door] if other.mounted_on != stay.mounted_on
        ] + [stay]
        return stay

    def _check_one_at_a_time(self, stays: Iterable[Stay], owner: str) -> None:
        ordered = sorted(
            stays,
            key=lambda s: (getattr(s, owner), s.mounted_on, s.removed_on or date.max),
        )
        for before, after in pairwise(ordered):
            is_same = getattr(before, owner) == getattr(after, owner)
            # Two stays of one door on one truck are told of once, with the door.
            is_told = owner == "truck" and before.door == after.door
            if is_same and not is_told and after.mounted_on < (before.removed_on or date.max):
                self._refuse_overlap(before, after, owner)

    def _refuse_overlap(self, before: Stay, after: Stay, owner: str) -> None:
        late, early = (after, before) if after.row is not None else (before, after)
        words = (
            _("truck %(truck)s has door %(door)s from %(start)s to %(end)s: one door at a time")
            if owner == "truck"
            else _("door %(door)s is on truck %(truck)s from %(start)s to %(end)s: one at a time")
        )
        self._refuse(
            late.file,
            late.row or 0,
            "truck",
            words
            % {
                "truck": early.truck,
                "door": early.door,
                "start": early.mounted_on,
                "end": early.removed_on or _("now"),
            },
            late.truck if owner == "door" else late.door,
        )

    def _refuse(self, file: str, number: int, column: str, words: str, value: Any) -> None:
        self.problems.add(file, words, row=number, column=column, value=value)


def recorded_stays() -> dict[str, list[Stay]]:
    """The mountings of the database by door."""
    stays: defaultdict[str, list[Stay]] = defaultdict(list)
    for stay in _recorded():
        stays[stay.door].append(stay)
    return dict(stays)


def _recorded() -> Iterable[Stay]:
    rows = Mounting.objects.values_list(
        "door__serial", "truck__fleet_number", "mounted_on", "removed_on"
    )
    return (Stay(*row) for row in rows.iterator(chunk_size=10_000))


def _stay(row: Row, file: str, number: int) -> Stay:
    return Stay(row["door"], row["truck"], row["mounted_on"], row["removed_on"], file, number)
