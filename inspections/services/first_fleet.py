"""A depot, a door model and its trucks, typed on one page: made into a fleet folder.

What is typed then goes the way of every other folder: it is checked, shown and confirmed.
"""

from __future__ import annotations

import csv
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from io import StringIO
from zoneinfo import ZoneInfo

from django.core.files.uploadedfile import SimpleUploadedFile
from django.utils.translation import gettext as _

from fleetdoors.models import Depot, DoorModel, DoorUnit, Truck

MOST_TRUCKS = 2_000
_CELLS = 3
DOOR_COLUMNS = ("door", "door_model", "truck", "mounted_on", "opening_cycles", "record_from")
READING_COLUMNS = ("door", "read_at", "counter_value", "read_by", "source")


@dataclass(frozen=True)
class TypedTruck:
    """One line: a truck, its door's serial number, and what the counter shows (None = not read)."""

    truck: str
    door: str
    counter_value: int | None


@dataclass(frozen=True)
class FirstFleet:
    """What was typed; figures of the door model in the units of `DoorModel`."""

    depot: str
    depot_name: str
    timezone: str
    setting: str
    bay_hours_per_day: float | None
    door_model: str
    supply_volts: float
    counter_digits: int
    counts_per_cycle: int
    trucks: Sequence[TypedTruck]


class LinesRefusedError(ValueError):
    """Lines that cannot be read; `reasons` has a sentence for each."""

    def __init__(self, reasons: list[str]) -> None:
        super().__init__(" ".join(reasons))
        self.reasons = reasons


def read_trucks(text: str) -> list[TypedTruck]:
    """The trucks of a list, a line each: number, door's serial, counter, by commas or tabs.

    A door without a serial is called after its truck. Raises LinesRefusedError with every fault.
    """
    found: list[TypedTruck] = []
    reasons: list[str] = []
    seen: dict[str, int] = {}
    for line, words in enumerate(text.splitlines(), start=1):
        if not words.strip():
            continue
        try:
            typed = _read_line(words)
        except ValueError as why:
            reasons.append(_("Line %(line)s: %(why)s") % {"line": line, "why": why})
            continue
        for name in {typed.truck, f"\0{typed.door}"}:
            if name in seen:
                reasons.append(
                    _("Line %(line)s: %(name)s stands on line %(first)s already.")
                    % {"line": line, "name": name.strip("\0"), "first": seen[name]}
                )
            seen.setdefault(name, line)
        found.append(typed)
    if not reasons and not found:
        reasons.append(_("No truck was typed."))
    if len(found) > MOST_TRUCKS:
        reasons.append(
            _("These are %(n)s trucks; %(most)s can be typed at once. Bring more in as a table.")
            % {"n": len(found), "most": MOST_TRUCKS}
        )
    if reasons:
        raise LinesRefusedError(reasons)
    return found


def _read_line(words: str) -> TypedTruck:
    sign = next((each for each in "\t;" if each in words), ",")
    cells = [cell.strip() for cell in words.split(sign)]
    if len(cells) > _CELLS and any(cells[_CELLS:]):
        raise ValueError(_("a truck, a door and a counter make three; there are more."))
    truck, door, counter = (*cells, "", "")[:_CELLS]
    if not truck:
        raise ValueError(_("the truck's number is missing."))
    if counter and not (counter.isascii() and counter.isdigit()):
        raise ValueError(
            _("%(typed)s is not what a counter shows: digits only.") % {"typed": counter}
        )
    return TypedTruck(truck, door or f"D-{truck}", int(counter) if counter else None)


def on_record_already(trucks: Sequence[TypedTruck]) -> list[str]:
    """A sentence for each truck or door of the lines that is on record; two queries."""
    numbers, serials = [each.truck for each in trucks], [each.door for each in trucks]
    there = [
        *Truck.objects.filter(fleet_number__in=numbers).values_list("fleet_number", flat=True),
        *DoorUnit.objects.filter(serial__in=serials).values_list("serial", flat=True),
    ]
    return [_("%(name)s is on record already.") % {"name": name} for name in sorted(there)]


def as_folder(fleet: FirstFleet, *, now: datetime, read_by: str) -> list[SimpleUploadedFile]:
    """The tables of a fleet folder; a counter that was typed becomes the first reading, at `now`.

    The door's cycles begin at what its counter shows. A depot or a door model that is on record
    keeps its settings: only its name is written. Queries twice.
    """
    depot = Depot.objects.filter(code=fleet.depot).first()
    has_model = DoorModel.objects.filter(code=fleet.door_model).exists()
    here = now.astimezone(depot.zone if depot else ZoneInfo(fleet.timezone))
    today, moment = here.date().isoformat(), here.isoformat(timespec="minutes")
    doors = [
        (each.door, fleet.door_model, each.truck, today, _cycles(each, fleet), today)
        for each in fleet.trucks
    ]
    readings = [
        (each.door, moment, each.counter_value, read_by, "hand")
        for each in fleet.trucks
        if each.counter_value is not None
    ]
    depot_row: dict[str, object] = {"depot": fleet.depot} | (
        {} if depot else _depot_settings(fleet)
    )
    model_row: dict[str, object] = {"door_model": fleet.door_model} | (
        {} if has_model else _model_settings(fleet)
    )
    return [
        _table("depots", depot_row, [depot_row.values()]),
        _table("door_models", model_row, [model_row.values()]),
        _table("trucks", ("truck", "depot"), [(each.truck, fleet.depot) for each in fleet.trucks]),
        _table("doors", DOOR_COLUMNS, doors),
        _table("readings", READING_COLUMNS, readings),
    ]


def _depot_settings(fleet: FirstFleet) -> dict[str, object]:
    hours = fleet.bay_hours_per_day
    return {
        "name": fleet.depot_name,
        "timezone": fleet.timezone,
        "setting": fleet.setting,
        "bay_hours_per_day": "" if hours is None else f"{hours:g}",
    }


def _model_settings(fleet: FirstFleet) -> dict[str, object]:
    return {
        "supply_volts": f"{fleet.supply_volts:g}",
        "counter_digits": fleet.counter_digits,
        "counts_per_cycle": fleet.counts_per_cycle,
    }


def _cycles(typed: TypedTruck, fleet: FirstFleet) -> int:
    return (typed.counter_value or 0) // fleet.counts_per_cycle


def _table(
    name: str, header: Iterable[str], rows: Iterable[Iterable[object]]
) -> SimpleUploadedFile:
    written = StringIO()
    writer = csv.writer(written)
    writer.writerow(header)
    writer.writerows(rows)
    return SimpleUploadedFile(f"{name}.csv", written.getvalue().encode())
