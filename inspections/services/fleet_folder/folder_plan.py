"""Reads a whole fleet folder, each table after those it refers to, and plans what it changes."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any

import numpy as np

from fleetdoors.models import DoorUnit, Truck
from fleetdoors.services.progress import Progress
from inspections.services.fleet_folder.announced_table import ANNOUNCED_CHANGES
from inspections.services.fleet_folder.columns import Keeping
from inspections.services.fleet_folder.entries import (
    fill_entries,
    fill_event_entries,
    place_moments,
)
from inspections.services.fleet_folder.errors import Problems
from inspections.services.fleet_folder.event_plan import EventPlan, fill_components, plan_events
from inspections.services.fleet_folder.existing import keys_of, known_codes
from inspections.services.fleet_folder.fleet_clocks import (
    depot_clocks,
    door_clocks,
    zones_by_depot,
)
from inspections.services.fleet_folder.fleet_tables import DOOR_MODELS, DOORS, FUSE_POSITIONS
from inspections.services.fleet_folder.keyed_plan import KeyedPlan, plan_keyed
from inspections.services.fleet_folder.linked_plan import LinkedPlan, LinkedPlanner
from inspections.services.fleet_folder.mountings import Dates, Mountings
from inspections.services.fleet_folder.movement_tables import MOVEMENT_TABLES
from inspections.services.fleet_folder.order_check import check_orders
from inspections.services.fleet_folder.order_tables import ORDER_LINES, PURCHASE_ORDERS, RECEIPTS
from inspections.services.fleet_folder.outcomes import Outcome, TableCount, count_outcomes
from inspections.services.fleet_folder.reading_arrays import (
    DoorIndex,
)
from inspections.services.fleet_folder.reading_plan import ReadingPlan, plan_readings
from inspections.services.fleet_folder.readings import door_numbers, read_readings
from inspections.services.fleet_folder.record_tables import FAULTS, READINGS, STOCK
from inspections.services.fleet_folder.sheets import Sheet, SheetReader
from inspections.services.fleet_folder.sources import Source
from inspections.services.fleet_folder.stay_tables import COUNTERS, FITMENTS, MOUNTINGS
from inspections.services.fleet_folder.stays_check import (
    check_counters,
    check_fitments,
    digits_by_door,
)
from inspections.services.fleet_folder.stock_plan import StockPlan, plan_stock
from inspections.services.fleet_folder.supplier_tables import SUPPLIER_PRICES, SUPPLIERS
from inspections.services.fleet_folder.tables import TABLES

EVENTS = tuple(table for table in TABLES.values() if table.keeping == Keeping.COUNT)
KEYED = tuple(
    table
    for table in TABLES.values()
    if table.keeping in (Keeping.LAST_WORD, Keeping.FIRST_WORD, Keeping.FILL)
)
LINKED = tuple(table for table in TABLES.values() if table.keeping == Keeping.LINKED)
STAYS = (MOUNTINGS, COUNTERS, FITMENTS)
# Figures of doors rest on none of these as a whole.
NO_FIGURES = (DOORS, FUSE_POSITIONS, SUPPLIERS, SUPPLIER_PRICES)
STORES = (PURCHASE_ORDERS, ORDER_LINES, RECEIPTS, *MOVEMENT_TABLES)
# What these tables say bears on the figures of any door, not only of those they name.
FLEET_WIDE = tuple(table.name for table in KEYED if table not in (*STAYS, *NO_FIGURES))


@dataclass
class FolderPlan:
    """Everything that an import would write, and how many rows that is."""

    keyed: list[KeyedPlan]
    events: list[EventPlan]
    readings: ReadingPlan
    stock: StockPlan
    linked: list[LinkedPlan]
    door_numbers: dict[str, int]
    counts: list[TableCount] = field(default_factory=list)

    @property
    def concerns_the_fleet(self) -> bool:
        """Whether depots, trucks, models, parts or tasks change."""
        return any(plan.changed for plan in self.keyed if plan.table.name in FLEET_WIDE) or any(
            plan.new for plan in self.keyed if plan.table.name in ("truck_depots", "lay_ups")
        )

    @property
    def announces(self) -> bool:
        """Whether anything new is coming."""
        return any(plan.new for plan in self.linked if plan.table is ANNOUNCED_CHANGES)

    @property
    def concerns_shelves(self) -> bool:
        """Whether what lies at a depot, or is on its way there, changes."""
        return bool(self.stock.new) or any(plan.new for plan in self.linked if plan.table in STORES)

    def concerned_doors(self) -> set[str]:
        """Serials of the doors about which something is written."""
        plans: Iterable[KeyedPlan | EventPlan | LinkedPlan] = (
            *self.keyed,
            *self.events,
            *self.linked,
        )
        doors = set().union(*(plan.concerned_doors() for plan in plans))
        serials = list(self.door_numbers)
        return doors | {serials[number] for number in self.readings.concerned_doors()}


class FolderPlanner:
    """Reads the tables in their order and plans each; writes nothing."""

    def __init__(
        self, source: Source, now: datetime, problems: Problems, progress: Progress
    ) -> None:
        self.source = source
        self.now = now
        self.problems = problems
        self.progress = progress
        self.sheets: dict[str, Sheet] = {}
        self.numbers: dict[str, int] = {}

    def plan(self) -> FolderPlan:
        """Plan everything; problems go to the list that was given."""
        self._read_sheets()
        mountings, derived = self._lay_out_mountings()
        doors = self._door_index(mountings)
        self._place(doors, derived)
        check_counters(self.sheets["counters"], self.digits, self.problems)
        check_fitments(self.sheets["fitments"], self.problems)
        check_orders(self.sheets, self.problems)
        keyed = [self._plan_keyed(table.name, derived) for table in KEYED]
        events = [plan_events(self.sheets[table.name], self.problems) for table in EVENTS]
        stock = plan_stock(self.sheets["stock"], self.problems, self.now)
        readings = read_readings(self.source, doors, self.problems, self.now, self.progress)
        file = self.source.files.get(READINGS.name, "")
        plan = FolderPlan(
            keyed,
            events,
            plan_readings(readings, doors, file, self.problems),
            stock,
            LinkedPlanner(self.sheets, self.problems).plan_all(LINKED),
            self.numbers,
        )
        plan.counts = self._counts(plan, derived)
        return plan

    def _read_sheets(self) -> None:
        reader = SheetReader(self.source, known_codes(), self.problems, self.now)
        for table in TABLES.values():
            if table is not READINGS:
                self.sheets[table.name] = reader.read(table)
                self.progress.advance(len(self.sheets[table.name]))

    def _lay_out_mountings(self) -> tuple[Mountings, Sheet]:
        """Every mounting after the import, and those that only `doors` tells of."""
        doors, listed = self.sheets["doors"], self.sheets["mountings"]
        dates = Dates(
            record_from=self._dates(DoorUnit.objects.all(), doors, "record_from"),
            in_service_on=self._dates(Truck.objects.all(), self.sheets["trucks"], "in_service_on"),
            retired_on=self._dates(DoorUnit.objects.all(), doors, "retired_on"),
        )
        self.record_from = dates.record_from
        mountings = Mountings(dates, self.problems, self.now.date())
        mountings.take_mountings(listed)
        derived = mountings.take_doors(doors)
        mountings.settle(listed)
        mountings.check_overlaps()
        return mountings, derived

    def _dates(self, stored: Any, sheet: Sheet, name: str) -> dict[str, date | None]:
        code = sheet.table.columns[0].lookup
        dates: dict[str, date | None] = dict(
            stored.filter(**{f"{name}__isnull": False}).values_list(code, name)
        )
        codes = sheet.column(sheet.table.key[0])
        given = zip(codes, sheet.column(name), strict=True)
        return dates | {code: day for code, day in given if code and day}

    def _door_index(self, mountings: Mountings) -> DoorIndex:
        serials = [door for door in self.sheets["doors"].column("door") if door]
        self.numbers = door_numbers(serials)
        self.digits = digits_by_door(
            self.sheets["doors"], self.sheets[DOOR_MODELS.name], self.sheets["counters"]
        )
        pks = keys_of(DOORS)
        return DoorIndex(
            number=self.numbers,
            pk=np.array([pks.get(door, -1) for door in self.numbers], np.int64),
            limit=np.array([10 ** self.digits[door] for door in self.numbers], np.int64),
            clocks=door_clocks(self.numbers, mountings.of_door, self.sheets),
        )

    def _place(self, doors: DoorIndex, derived: Sheet) -> None:
        """Put every moment on its clock, and fill in what was entered when it happened."""
        for table in STAYS:
            sheet = self.sheets[table.name]
            fill_entries(sheet, self.numbers, doors.clocks, self.record_from)
        fill_entries(derived, self.numbers, doors.clocks, self.record_from)
        for table in EVENTS:
            place_moments(self.sheets[table.name], self.numbers, doors.clocks)
            fill_event_entries(self.sheets[table.name], table.key[1])
        fill_components(self.sheets[FAULTS.name])
        numbers, clocks = depot_clocks(zones_by_depot(self.sheets))
        for table in (*LINKED, STOCK):
            if table.local_to == "depot":
                place_moments(self.sheets[table.name], numbers, clocks)
            else:
                place_moments(self.sheets[table.name], self.numbers, doors.clocks)

    def _plan_keyed(self, name: str, derived: Sheet) -> KeyedPlan:
        sheets = [self.sheets[name]]
        if name == MOUNTINGS.name:
            sheets.append(derived)
        return plan_keyed(TABLES[name], sheets, self.problems)

    def _counts(self, plan: FolderPlan, derived: Sheet) -> list[TableCount]:
        plans: Iterable[KeyedPlan | EventPlan | LinkedPlan] = (
            *plan.keyed,
            *plan.events,
            *plan.linked,
        )
        outcomes = {each.table.name: each.outcomes for each in plans}
        outcomes[STOCK.name] = plan.stock.outcomes
        own, doors = outcomes[MOUNTINGS.name], outcomes[DOORS.name]
        for number in derived.numbers:
            if doors.get(number) == Outcome.UNCHANGED:
                doors[number] = Outcome.CHANGED
        listed = set(self.sheets["mountings"].numbers)
        outcomes[MOUNTINGS.name] = {row: each for row, each in own.items() if row in listed}
        return [
            plan.readings.count()
            if name == READINGS.name
            else count_outcomes(name, len(self.sheets[name]), outcomes[name].values())
            for name in TABLES
            if name in self.source.files
        ]
