"""Finds the clocks of a fleet's doors and depots, from the database and the folder together."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from datetime import date

from fleetdoors.models import Depot, Truck, TruckDepot
from inspections.services.fleet_folder.mountings import Stay
from inspections.services.fleet_folder.sheets import Sheet
from inspections.services.fleet_folder.whereabouts import (
    Clocks,
    Piece,
    depots_of_door,
    depots_of_truck,
)

Sheets = Mapping[str, Sheet]
Stays = dict[str, dict[date, tuple[Piece, date | None]]]


def overlaid(stored: Iterable[tuple[str, str]], sheet: Sheet | None, name: str) -> dict[str, str]:
    """A value by code: of the database, and over it what the folder says."""
    values = dict(stored)
    if sheet is not None:
        codes = sheet.column(sheet.table.key[0])
        values |= {
            code: value
            for code, value in zip(codes, sheet.column(name), strict=True)
            if code and value
        }
    return values


def zones_by_depot(sheets: Sheets) -> dict[str, str]:
    """The zone of each depot; one that is new and names none keeps UTC."""
    stored = Depot.objects.values_list("code", "timezone")
    zones = overlaid(stored, sheets.get("depots"), "timezone")
    new = sheets["depots"].column("depot") if "depots" in sheets else ()
    return {code: "UTC" for code in new if code} | zones


def depot_clocks(zones: Mapping[str, str]) -> tuple[dict[str, int], Clocks]:
    """Number of each depot, and the clocks by number."""
    numbers = {code: number for number, code in enumerate(zones)}
    return numbers, Clocks([[Piece(date.min, zone)] for zone in zones.values()])


def door_clocks(
    numbers: Mapping[str, int], stays: Mapping[str, Iterable[Stay]], sheets: Sheets
) -> Clocks:
    """The clocks of the doors by number."""
    zones = zones_by_depot(sheets)
    trucks = _depots_by_truck(sheets)
    pieces = []
    for door in numbers:
        mounted = [Piece(stay.mounted_on, stay.truck) for stay in stays.get(door, ())]
        lived = depots_of_door(mounted, trucks)
        pieces.append([Piece(piece.from_on, zones.get(piece.place, "UTC")) for piece in lived])
    return Clocks(pieces)


def _depots_by_truck(sheets: Sheets) -> dict[str, list[Piece]]:
    stored = Truck.objects.values_list("fleet_number", "depot__code")
    depot = overlaid(stored.iterator(chunk_size=10_000), sheets.get("trucks"), "depot")
    stays = _stays_by_truck(sheets.get("truck_depots"))
    return {
        truck: depots_of_truck(code, list(stays[truck].values()) if truck in stays else [])
        for truck, code in depot.items()
    }


def _stays_by_truck(sheet: Sheet | None) -> Stays:
    stays: defaultdict[str, dict[date, tuple[Piece, date | None]]] = defaultdict(dict)
    rows = TruckDepot.objects.values_list(
        "truck__fleet_number", "from_on", "depot__code", "until_on"
    )
    for truck, from_on, depot, until_on in rows.iterator(chunk_size=10_000):
        stays[truck][from_on] = (Piece(from_on, depot), until_on)
    for _number, row in sheet.rows() if sheet is not None else ():
        known = stays[row["truck"]].get(row["from_on"])
        until_on = row["until_on"] or (known[1] if known else None)
        stays[row["truck"]][row["from_on"]] = (Piece(row["from_on"], row["depot"]), until_on)
    return dict(stays)
