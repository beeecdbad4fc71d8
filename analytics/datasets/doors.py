"""Door units as arrays: what each is, where it was, and the moment that `as_of` means for it."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

import numpy as np
from django.db.models import F, QuerySet

from analytics.datasets.clock import AsOf, wall_seconds
from analytics.datasets.columns import (
    DAY_SECONDS,
    EpochDays,
    Flags,
    Floats,
    Ints,
    Table,
)
from analytics.datasets.depots import Depots, fetch_depots
from analytics.datasets.trucks import (
    NO_TRUCK,
    Mountings,
    Trucks,
    fetch_lay_ups,
    fetch_mountings,
    fetch_trucks,
)
from analytics.kernel.effective_days import LayUps
from fleetdoors.models import DoorUnit, LayUp, Mounting, Truck


@dataclass(frozen=True)
class DoorRows:
    """Doors by serial number. `truck`, `depot`, `route` are rows of their tables, -1 = none."""

    as_of: AsOf
    only: Ints | None
    ids: Ints
    serials: tuple[str, ...]
    revision: Ints
    model: Ints
    model_codes: tuple[str, ...]
    opening_cycles: Floats
    record_from_day: Floats
    modulus: Floats
    counts_per_cycle: Floats
    spring_class_cycles: Floats
    in_service: Flags
    truck: Ints
    depot: Ints
    route: Ints
    route_kinds: tuple[str, ...]
    trucks: Trucks
    depots: Depots
    lay_ups: LayUps

    def __len__(self) -> int:
        return len(self.ids)

    @property
    def moment(self) -> Floats:
        """Seconds since 1970 of `as_of` where each door is, (n,)."""
        return self.depots.moment[self.depot]

    @property
    def day(self) -> Floats:
        """Epoch days of `as_of` on each door's wall clock, (n,)."""
        return self.depots.day[self.depot]

    @property
    def limit_day(self) -> Ints:
        """First epoch day whose bare date is not before `as_of`, (n,)."""
        return self.depots.limit_day[self.depot]

    def index_of(self, ids: Ints) -> Ints:
        """Row of each door id; -1 where it is not among these."""
        if len(self.ids) == 0:
            return np.full(len(ids), -1)
        order = np.argsort(self.ids)
        place = np.minimum(np.searchsorted(self.ids[order], ids), len(order) - 1)
        return np.where(self.ids[order][place] == ids, order[place], -1)

    def wall_days(self, door: Ints, epoch: Ints) -> Floats:
        """Epoch days on the wall clock of each row's door."""
        wall = np.empty(len(epoch))
        depot = self.depot[door]
        for row in np.unique(depot):
            chosen = depot == row
            wall[chosen] = wall_seconds(epoch[chosen], self.depots.zones[row])
        return wall / DAY_SECONDS


def fetch_doors(as_of: AsOf, only: Collection[int] | None = None) -> DoorRows:
    """Doors on record before `as_of`, all or the named ones; runs six queries."""
    depots = fetch_depots(as_of)
    mounted, laid, moved = Mounting.objects.all(), LayUp.objects.all(), Truck.objects.all()
    units: QuerySet[DoorUnit] = DoorUnit.objects.all()
    if only is not None:
        units, mounted = units.filter(pk__in=only), mounted.filter(door__in=only)
        moved = moved.filter(pk__in=mounted.values("truck_id"))
        laid = laid.filter(truck__in=moved)
    trucks = fetch_trucks(depots, moved)
    mountings = fetch_mountings(depots, trucks, mounted)
    known = _known_units(_fetch_units(units), mountings, trucks, depots)
    return _door_rows(as_of, known, mountings, fetch_lay_ups(laid), only)


@dataclass(frozen=True)
class _KnownUnits:
    """Rows of the doors whose record has begun, where each is, and whether it still works."""

    rows: list[tuple[object, ...]]
    truck: Ints
    in_service: Flags
    trucks: Trucks
    depots: Depots

    def numbers(self, column: int) -> Floats:
        """One column as numbers, nan where unknown."""
        return np.array([row[column] for row in self.rows], dtype=float)


def _fetch_units(units: QuerySet[DoorUnit]) -> list[tuple[object, ...]]:
    return list(
        units.order_by("serial").values_list(
            "id",
            "serial",
            "revision",
            "door_model__code",
            "opening_cycles",
            EpochDays(F("record_from")),
            EpochDays(F("retired_on")),
            "door_model__counter_digits",
            "door_model__counts_per_cycle",
            "door_model__spring_class_cycles",
        )
    )


def _known_units(
    rows: list[tuple[object, ...]], mountings: Mountings, trucks: Trucks, depots: Depots
) -> _KnownUnits:
    truck = _present_trucks(np.array([row[0] for row in rows], dtype=np.int64), mountings)
    limit = depots.limit_day[trucks.depot[truck]]
    begun, ended = (np.array([row[k] for row in rows], dtype=float) for k in (5, 6))
    kept = np.flatnonzero(~(begun >= limit))
    return _KnownUnits(
        rows=[rows[k] for k in kept.tolist()],
        truck=truck[kept],
        in_service=~(ended < limit)[kept],
        trucks=trucks,
        depots=depots,
    )


def _door_rows(
    as_of: AsOf,
    known: _KnownUnits,
    mountings: Mountings,
    laid: Table,
    only: Collection[int] | None,
) -> DoorRows:
    trucks, numbers = known.trucks, known.numbers
    ids = numbers(0).astype(np.int64)
    model_codes, model = coded([str(row[3]) for row in known.rows])
    route_kinds, route = coded([trucks.route_kinds[k] for k in known.truck.tolist()])
    return DoorRows(
        as_of=as_of,
        only=None if only is None else np.array(sorted(only), dtype=np.int64),
        ids=ids,
        serials=tuple(str(row[1]) for row in known.rows),
        revision=numbers(2).astype(np.int64),
        model=model,
        model_codes=model_codes,
        opening_cycles=numbers(4),
        record_from_day=numbers(5),
        modulus=10.0 ** numbers(7),
        counts_per_cycle=numbers(8),
        spring_class_cycles=numbers(9),
        in_service=known.in_service,
        truck=known.truck,
        depot=trucks.depot[known.truck],
        route=route,
        route_kinds=route_kinds,
        trucks=trucks,
        depots=known.depots,
        lay_ups=_lay_ups_of_doors(ids, mountings, laid, trucks, known.depots),
    )


def coded(words: list[str]) -> tuple[tuple[str, ...], Ints]:
    """Distinct words in order, and the place of each word among them; -1 for an empty one."""
    known = tuple(sorted(set(words) - {""}))
    place = {word: k for k, word in enumerate(known)}
    return known, np.array([place.get(word, -1) for word in words], dtype=np.int64)


def _present_trucks(ids: Ints, mountings: Mountings) -> Ints:
    """Truck row of each door's latest mounting that has not ended."""
    open_ones = np.flatnonzero(np.isnan(mountings.until_day))
    latest_last = open_ones[np.argsort(mountings.from_day[open_ones], kind="stable")]
    on = dict(
        zip(
            mountings.door_id[latest_last].tolist(),
            mountings.truck[latest_last].tolist(),
            strict=True,
        )
    )
    return np.array([on.get(each, NO_TRUCK) for each in ids.tolist()], dtype=np.int64)


def _lay_ups_of_doors(
    ids: Ints, mountings: Mountings, laid: Table, trucks: Trucks, depots: Depots
) -> LayUps:
    """Days out of use of the truck, for whichever door was on it then."""
    place = {each: k for k, each in enumerate(ids.tolist())}
    by_truck: dict[int, list[tuple[float, float]]] = {}
    for truck, start, end in zip(
        trucks.index_of(laid["truck"]).tolist(),
        laid["from"].tolist(),
        laid["until"].tolist(),
        strict=True,
    ):
        limit = depots.limit_day[trucks.depot[truck]]
        if start < limit:
            # An end that lies ahead is not known yet: the truck is still out.
            by_truck.setdefault(truck, []).append((start, end if end < limit else np.inf))
    found = []
    for door, truck, start, end in zip(
        mountings.door_id.tolist(),
        mountings.truck.tolist(),
        mountings.from_day.tolist(),
        np.nan_to_num(mountings.until_day, nan=np.inf).tolist(),
        strict=True,
    ):
        for out_from, out_until in by_truck.get(truck, ()):
            first, last = max(start, out_from), min(end, out_until)
            if first < last and door in place:
                found.append((place[door], first, last))
    door_rows, starts, ends = zip(*found, strict=True) if found else ((), (), ())
    return LayUps(np.array(door_rows, np.int64), np.array(starts, float), np.array(ends, float))
