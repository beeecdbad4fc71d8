"""What was announced, as it was known at the moment."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime

import numpy as np

from analytics.datasets.catalogue import Parts
from analytics.datasets.clock import EPOCH_DATE, latest_moment, local_day, moment_in
from analytics.datasets.doors import DoorRows
from inspections.models import AnnouncedChange, AnnouncedKind

EVERY = -1


@dataclass(frozen=True)
class NewTrucks:
    """Doors of a model that come to a depot (row) on a day; `told_day`: when it was announced."""

    depot: int
    model: str
    from_day: float
    told_day: float
    doors: int
    cycles_per_day: float


@dataclass(frozen=True)
class OtherUse:
    """A factor on the use at a depot (row, -1 = every) and of a route kind ("" = every)."""

    depot: int
    route_kind: str
    from_day: float
    until_day: float
    factor: float


@dataclass(frozen=True)
class Campaign:
    """A part (row) that is fitted on doors of a depot (row) in the course of some days."""

    depot: int
    part: int
    from_day: float
    until_day: float
    doors: int
    pieces: int


@dataclass(frozen=True)
class Announced:
    """Everything announced and not cancelled; days are epoch days, ends lie after the last day."""

    trucks: tuple[NewTrucks, ...] = ()
    uses: tuple[OtherUse, ...] = ()
    campaigns: tuple[Campaign, ...] = ()

    def __bool__(self) -> bool:
        return bool(self.trucks or self.uses or self.campaigns)


def fetch_announced(
    doors: DoorRows, parts: Parts, also: Iterable[AnnouncedChange] = ()
) -> Announced:
    """Changes known at the moment, and others that are only tried; runs one query."""
    told = AnnouncedChange.objects.filter(entered_at__lt=latest_moment(doors.as_of))
    rows = told.select_related("door_model").order_by("from_on", "pk")
    known = [*(row for row in rows if _is_known(row, doors)), *also]
    return Announced(
        tuple(_trucks(row, doors) for row in known if row.kind == AnnouncedKind.TRUCKS),
        tuple(_use(row, doors) for row in known if row.kind == AnnouncedKind.USE),
        tuple(_campaign(row, doors, parts) for row in known if row.kind == AnnouncedKind.CAMPAIGN),
    )


def _is_known(row: AnnouncedChange, doors: DoorRows) -> bool:
    moment = _moment(row, doors)
    is_over = row.cancelled_at is not None and row.cancelled_at < moment
    return row.entered_at < moment and not is_over


def _moment(row: AnnouncedChange, doors: DoorRows) -> datetime:
    """What `as_of` means at its depot; of a change for all of them, at the first depot."""
    every = doors.depots.zones[:-1]
    zones = every if row.depot_id is None else (doors.depots.zones[_at(row, doors)],)
    moments = [moment_in(doors.as_of, zone) for zone in zones]
    return min(moments, default=latest_moment(doors.as_of))


def _at(row: AnnouncedChange, doors: DoorRows) -> int:
    if row.depot_id is None:
        return EVERY
    return int(doors.depots.index_of(np.array([row.depot_id]))[0])


def _day(day: date) -> float:
    return float((day - EPOCH_DATE).days)


def _trucks(row: AnnouncedChange, doors: DoorRows) -> NewTrucks:
    at = _at(row, doors)
    return NewTrucks(
        depot=at,
        model=row.door_model.code if row.door_model else "",
        from_day=_day(row.from_on),
        told_day=float(np.floor(local_day(row.entered_at, doors.depots.zones[at]))),
        doors=row.doors or 0,
        cycles_per_day=row.cycles_per_day or 0.0,
    )


def _use(row: AnnouncedChange, doors: DoorRows) -> OtherUse:
    return OtherUse(
        depot=_at(row, doors),
        route_kind=row.route_kind,
        from_day=_day(row.from_on),
        until_day=np.inf if row.until_on is None else _day(row.until_on) + 1,
        factor=row.factor or 1.0,
    )


def _campaign(row: AnnouncedChange, doors: DoorRows, parts: Parts) -> Campaign:
    return Campaign(
        depot=_at(row, doors),
        part=int(parts.index_of(np.array([row.new_part_id or -1]))[0]),
        from_day=_day(row.from_on),
        until_day=_day(row.until_on or row.from_on) + 1,
        doors=row.doors or 0,
        pieces=row.pieces_per_door or 0,
    )
