"""Which part each position in use will be served with, and how old what sits there is."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analytics.assessment.usage import UsageFound
from analytics.datasets.catalogue import Parts
from analytics.datasets.columns import Flags, Floats, Ints
from analytics.datasets.doors import DoorRows
from analytics.datasets.fitments import End
from analytics.datasets.fleet import Fleet, PartsRecord
from analytics.kernel.effective_days import Calendar

NO_PART = -1
_PREFERENCE_DAYS = 365.0


@dataclass(frozen=True)
class SeasonAhead:
    """How days ahead of a moment count by month: the calendar's class of each position."""

    calendar: Calendar
    from_day: float
    own_class: Ints

    @property
    def is_known(self) -> bool:
        """Whether any class has a season."""
        factors = self.calendar.month_factors
        return factors is not None and bool((factors != 1.0).any())

    def of_groups(
        self, rows: Ints, group: Ints, groups: int, weight: Floats, days: Floats
    ) -> Floats:
        """Mean over the positions of each group by weight, (groups, days)."""
        by_class = self.calendar.season_ahead(self.from_day, days)
        share = np.zeros((groups, len(by_class)))
        np.add.at(share, (group, self.own_class[rows]), np.maximum(weight, 1e-9))
        total = share.sum(axis=1, keepdims=True)
        share = np.where(total > 0, share / np.where(total > 0, total, 1.0), 1 / len(by_class))
        return np.asarray(share @ by_class)


@dataclass(frozen=True)
class Positions:
    """Positions in use: door row, depot row, part row (-1 = none fits), component, age, usage.

    `part` will be fitted next, `fitted_part_id` is there now (-1 = not noted). `age_cycles` is nan
    where the age is unknown; then `ceiling_cycles` is the most it can have been when the record
    began and `since_cycles` what it has run since.
    """

    door: Ints
    depot: Ints
    part: Ints
    component_id: Ints
    age_cycles: Floats
    ceiling_cycles: Floats
    since_cycles: Floats
    cycles_per_day: Floats
    fitted_part_id: Ints
    season: SeasonAhead

    def effective_days(self, rows: Ints, group: Ints, groups: int, days: Floats) -> Floats:
        """Days ahead, each counted by its month, of some positions by group, (groups, days)."""
        return self.season.of_groups(rows, group, groups, self.cycles_per_day[rows], days)


def positions_in_use(
    fleet: Fleet, record: PartsRecord, found: UsageFound, end: Floats
) -> Positions:
    """Parts fitted now on doors in service at a depot."""
    fitted, doors, usage = fleet.fitments, fleet.doors, found.usage
    chosen = np.flatnonzero(
        (fitted.end == End.FITTED) & doors.in_service[fitted.door] & (doors.depot[fitted.door] >= 0)
    )
    door = fitted.door[chosen]
    cycles_now = np.where(np.isnan(usage.cycles_now), end, usage.cycles_now)[door]
    opening = doors.opening_cycles[door]
    return Positions(
        door=door,
        depot=doors.depot[door],
        part=_serving_parts(fleet, record, chosen),
        component_id=fitted.component_id[chosen],
        age_cycles=np.maximum(cycles_now - fitted.fitted_at_cycles[chosen], 0.0),
        ceiling_cycles=opening,
        since_cycles=np.maximum(cycles_now - opening, 0.0),
        cycles_per_day=usage.cycles_per_day[door],
        fitted_part_id=fitted.part_id[chosen],
        season=_season_ahead(found, doors, door),
    )


def _season_ahead(found: UsageFound, doors: DoorRows, door: Ints) -> SeasonAhead:
    """Depots differ by hours, which no month notices: one day stands for all."""
    calendar = found.followed.calendar
    return SeasonAhead(calendar, float(doors.day.max(initial=0.0)), calendar.class_of_door[door])


def _serving_parts(fleet: Fleet, record: PartsRecord, chosen: Ints) -> Ints:
    """What will replace each fitted part: its newest successor, or what the depot uses there."""
    fitted, doors, parts = fleet.fitments, fleet.doors, record.parts
    door = fitted.door[chosen]
    now = parts.index_of(fitted.part_id[chosen])
    columns = (now, fitted.component_id[chosen], doors.depot[door], doors.model[door])
    key = np.zeros(len(chosen), dtype=np.int64)
    for column in columns:
        # Joined into one number: sorting whole rows takes ten times as long.
        low = column.min(initial=0)
        key = key * (column.max(initial=0) - low + 1) + column - low
    _, first, which = np.unique(key, return_index=True, return_inverse=True)
    preference = _use_by_depot(record, len(doors.depots), doors.day)
    served = [
        successor_of(parts, part, doors.model_codes[model])
        if part >= 0
        else usual_part(parts, component, doors.model_codes[model], preference[depot])
        for part, component, depot, model in np.stack(columns, axis=1)[first].tolist()
    ]
    return np.array(served, dtype=np.int64)[which]


def successor_of(parts: Parts, part: int, model: str) -> int:
    """What a part is replaced with on a door model: its newest successor, if that fits."""
    newest = int(parts.newest[part])
    return newest if _fits(parts, newest, model) else part


def usual_part(parts: Parts, component: int, model: str, use: Floats) -> int:
    """Of the parts that fit and are not superseded, the one used most at the depot."""
    fitting = [
        k
        for k in np.flatnonzero(parts.component_id == component).tolist()
        if parts.newest[k] == k and _fits(parts, k, model)
    ]
    return max(fitting, key=lambda k: (use[k], -k)) if fitting else NO_PART


def usual_part_at(fleet: Fleet, record: PartsRecord, component: int, model: str, depot: int) -> int:
    """The part that a depot (row) fits on a door model; NO_PART where none does."""
    use = _use_by_depot(record, len(fleet.doors.depots), fleet.doors.day)
    return usual_part(record.parts, component, model, use[depot])


def _fits(parts: Parts, part: int, model: str) -> bool:
    return not parts.fits[part] or model in parts.fits[part]


def _use_by_depot(record: PartsRecord, depots: int, day: Floats) -> Floats:
    """Pieces used within the last year by depot and part; a trace of the whole fleet's use."""
    used, part = record.used, record.parts.index_of(record.used.part_id)
    latest = day.max(initial=0.0)
    recent: Flags = (used.day >= latest - _PREFERENCE_DAYS) & (used.depot >= 0) & (part >= 0)
    found = np.zeros((depots, len(record.parts.ids)))
    np.add.at(found, (used.depot[recent], part[recent]), used.quantity[recent])
    return found + 1e-6 * found.sum(axis=0)
