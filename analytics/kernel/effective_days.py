"""Effective days: calendar time weighted by weekday and month, lay-ups counted as nothing."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import nnls

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Moment = float | Floats  # one epoch day for all doors, or one for each

# Most delivery fleets run five or six days; a modest start until the fleet's own readings speak.
# Common practice, no source.
WORKING_WEEK: Floats = np.array([1.25, 1.25, 1.25, 1.25, 1.25, 0.55, 0.2])
EVERY_DAY: Floats = np.ones(7)

_MONDAY_SHIFT = 3.0  # 1970-01-01, epoch day 0, was a Thursday
_DOOR_SPAN = 1_000_000.0  # days; wider than any record, so that door and day sort as one key
_FAR_DAY = 900_000.0
_FEWEST_INTERVALS = 60
# First days of months that any record or forecast can touch; before and after them no season.
_MONTHS = np.arange(np.datetime64("1970-01"), np.datetime64("2120-01"))
MONTH_STARTS: Floats = _MONTHS.astype("datetime64[D]").astype(np.int64).astype(float)
_MOST_INTERVALS = 20_000
_DEFAULT_WEIGHT_INTERVALS = 60.0


def door_key(door: Ints, day: Floats) -> Floats:
    """Join door and day into one number that sorts by door, then by day.

    Parameters
    ----------
    door : (k,) int64, at least 0
    day : (k,) epoch days

    Returns
    -------
    (k,) float64

    Notes
    -----
    With 100,000 doors the key still resolves two seconds.
    """
    return door.astype(np.float64) * _DOOR_SPAN + np.clip(day, -_FAR_DAY / 2, _FAR_DAY / 2)


@dataclass(frozen=True)
class LayUps:
    """Days on which a door's truck was out of use.

    Parameters
    ----------
    door : (m,) int64
    from_day : (m,) epoch days
    until_day : (m,) epoch days; nan or inf where the truck is still out
    """

    door: Ints
    from_day: Floats
    until_day: Floats

    @classmethod
    def none(cls) -> LayUps:
        return cls(np.zeros(0, np.int64), np.zeros(0), np.zeros(0))

    def of_doors(self, doors: Ints) -> LayUps:
        """Return the lay-ups of some doors (ascending), numbered anew from 0."""
        place = np.searchsorted(doors, self.door)
        found = np.minimum(place, max(len(doors) - 1, 0))
        keep = doors[found] == self.door if len(doors) else np.zeros(len(self.door), bool)
        return LayUps(place[keep], self.from_day[keep], self.until_day[keep])

    def merged(self) -> LayUps:
        """Return the same days with overlaps joined, ordered by door and day."""
        until = np.nan_to_num(self.until_day, nan=_FAR_DAY / 2, posinf=_FAR_DAY / 2)
        order = np.argsort(door_key(self.door, self.from_day), kind="stable")
        door, start = self.door[order], self.from_day[order]
        reach = np.maximum.accumulate(door_key(door, until[order]))
        before = np.concatenate(([-np.inf], reach[:-1]))
        fresh = np.maximum(door_key(door, start), before) - door * _DOOR_SPAN
        end = reach - door * _DOOR_SPAN
        keep = end > fresh
        return LayUps(door[keep], fresh[keep], end[keep])


@dataclass(frozen=True)
class _Season:
    """Straight lines from days by weekday to days by weekday and month, one piece per month.

    `factor` (c, m): of each month since 1970; `by_week`, `by_month` (c, m): both at its first day.
    """

    factor: Floats
    by_week: Floats
    by_month: Floats

    @classmethod
    def of(cls, month_factors: Floats, by_week: Floats) -> _Season:
        """From the factors (c, 12) and the weekday-weighted days at each month's start (c, m)."""
        factor = np.tile(month_factors, (1, len(MONTH_STARTS) // 12))
        steps = factor[:, :-1] * np.diff(by_week, axis=1)
        by_month = by_week[:, :1] + np.concatenate(
            (np.zeros((len(factor), 1)), np.cumsum(steps, axis=1)), axis=1
        )
        return cls(factor, by_week, by_month)

    def weighted(self, row: Ints, day: Floats, by_week: Floats) -> Floats:
        """Days by weekday and month, of classes at days whose weekday-weighted days are given."""
        month = np.searchsorted(MONTH_STARTS, day, side="right") - 1
        month = np.clip(month, 0, len(MONTH_STARTS) - 1)
        since = by_week - self.by_week[row, month]
        return self.by_month[row, month] + self.factor[row, month] * since

    def by_weekday(self, row: Ints, effective: Floats) -> Floats:
        """The inverse: days by weekday alone at which so many by weekday and month are reached."""
        month = np.zeros(len(effective), np.int64)
        for each in np.unique(row):
            own = row == each
            month[own] = np.searchsorted(self.by_month[each], effective[own], side="right") - 1
        month = np.clip(month, 0, len(MONTH_STARTS) - 1)
        since = (effective - self.by_month[row, month]) / self.factor[row, month]
        return self.by_week[row, month] + since


@dataclass(frozen=True)
class Calendar:
    """How much of its usual work a door does on each day.

    Parameters
    ----------
    weekday_weights : (c, 7), Monday first, none negative; scaled to mean 1
    class_of_door : (n,) int64, row of ``weekday_weights`` for each door
    lay_ups : LayUps
    month_factors : (c, 12), January first, above 0, mean 1 over a year; None = no season known

    Raises
    ------
    ValueError
        If a weight is negative or not finite, a week has no weight at all, or a month's factor
        is not above 0.
    """

    weekday_weights: Floats
    class_of_door: Ints
    lay_ups: LayUps
    month_factors: Floats | None = None
    _season: _Season | None = field(init=False, repr=False)
    _sums: Floats = field(init=False, repr=False)
    _laid: LayUps = field(init=False, repr=False)
    _laid_before: Floats = field(init=False, repr=False)

    def __post_init__(self) -> None:
        weights = np.asarray(self.weekday_weights, float).reshape(-1, 7)
        total = weights.sum(axis=1, keepdims=True)
        if not np.all(np.isfinite(weights)) or np.any(weights < 0) or np.any(total <= 0):
            raise ValueError(
                "Weekday weights must be finite, not negative and not all zero; "
                f"got {weights.tolist()}."
            )
        weights = weights * 7.0 / total
        sums = np.concatenate((np.zeros((len(weights), 1)), np.cumsum(weights, axis=1)), axis=1)
        laid = self.lay_ups.merged()
        object.__setattr__(self, "weekday_weights", weights)
        object.__setattr__(self, "_sums", sums)
        object.__setattr__(self, "_season", self._seasons())
        object.__setattr__(self, "_laid", laid)
        length = self.without_lay_ups(laid.door, laid.until_day) - self.without_lay_ups(
            laid.door, laid.from_day
        )
        object.__setattr__(self, "_laid_before", np.concatenate(([0.0], np.cumsum(length))))

    @classmethod
    def plain(cls, doors: int) -> Calendar:
        """Return a calendar in which every day counts as one."""
        return cls(EVERY_DAY[None, :], np.zeros(doors, np.int64), LayUps.none())

    def without_lay_ups(self, door: Ints, day: Floats) -> Floats:
        """Return weighted days since a fixed Monday, lay-ups not taken off.

        Parameters
        ----------
        door : (k,) int64
        day : (k,) finite epoch days

        Returns
        -------
        (k,) effective days; only differences carry meaning
        """
        row = self.class_of_door[door]
        by_week = self._by_weekday(row, np.asarray(day, float))
        if self._season is None:
            return by_week
        return self._season.weighted(row, np.asarray(day, float), by_week)

    def _by_weekday(self, row: Ints, day: Floats) -> Floats:
        """Weighted days since a fixed Monday of classes, months not looked at."""
        shifted = day + _MONDAY_SHIFT
        whole = np.floor(shifted)
        week = np.floor(whole / 7.0)
        weekday = (whole - 7.0 * week).astype(np.int64)
        within = self._sums[row, weekday] + self.weekday_weights[row, weekday] * (shifted - whole)
        return 7.0 * week + within

    def _seasons(self) -> _Season | None:
        if self.month_factors is None:
            return None
        factors = np.asarray(self.month_factors, float).reshape(len(self.weekday_weights), 12)
        if not np.all(np.isfinite(factors) & (factors > 0)):
            raise ValueError(f"Month factors must be above 0; got {factors.tolist()}.")
        if np.all(factors == 1.0):
            return None
        row = np.arange(len(factors))[:, None]
        return _Season.of(factors, self._by_weekday(row, MONTH_STARTS[None, :]))

    def elapsed(self, door: Ints, day: Floats) -> Floats:
        """Return effective days since a fixed Monday, lay-ups counted as none.

        Parameters
        ----------
        door : (k,) int64
        day : (k,) finite epoch days

        Returns
        -------
        (k,) effective days; only differences carry meaning
        """
        total = self.without_lay_ups(door, day)
        laid = self._laid
        if len(laid.door) == 0:
            return total
        last = (
            np.searchsorted(door_key(laid.door, laid.from_day), door_key(door, day), side="right")
            - 1
        )
        first = np.searchsorted(laid.door, door)
        some = np.flatnonzero(last >= first)
        if len(some) == 0:
            return total
        j, start = last[some], first[some]
        began = self.without_lay_ups(laid.door[j], laid.from_day[j])
        ended = self.without_lay_ups(laid.door[j], laid.until_day[j])
        open_part = np.clip(total[some], began, ended) - began
        out = total.copy()
        out[some] -= self._laid_before[j] - self._laid_before[start] + open_part
        return out

    def season_ahead(self, from_day: float, days: Floats) -> Floats:
        """Return what so many days ahead come to when each counts by its month's factor alone.

        Parameters
        ----------
        from_day : epoch day
        days : (k,) days ahead, not negative

        Returns
        -------
        (c, k) days, by class; the days themselves where no season is known
        """
        row = np.arange(len(self.weekday_weights))[:, None]
        plain = np.broadcast_to(np.asarray(days, float), (len(row), len(days)))
        if self._season is None:
            return plain.copy()
        ends = np.stack((np.full_like(plain, from_day), from_day + plain))
        by_week = self._by_weekday(row, ends)
        extra = self._season.weighted(row, ends, by_week) - by_week
        return plain + extra[1] - extra[0]

    def day_after(self, door: Ints, from_day: Floats, effective: Floats) -> Floats:
        """Return the first moment by which so many effective days have passed.

        Parameters
        ----------
        door : (k,) int64
        from_day : (k,) epoch days
        effective : (k,) effective days, may be negative; nan and inf pass through

        Returns
        -------
        (k,) epoch days

        Notes
        -----
        Follows weekdays and months alone: lay-ups still to come are not known, and a truck that
        stands idle at ``from_day`` is taken to go back to work then.
        """
        row = self.class_of_door[door]
        target = self.without_lay_ups(door, from_day) + effective
        usable = np.isfinite(target)
        known = np.where(usable, target, 0.0)
        if self._season is not None:
            known = self._season.by_weekday(row, known)
        week = np.ceil(known / 7.0) - 1.0
        rest = known - 7.0 * week
        weekday = np.clip((self._sums[row] < rest[:, None]).sum(axis=1) - 1, 0, 6)
        weight = self.weekday_weights[row, weekday]
        part = (rest - self._sums[row, weekday]) / np.where(weight > 0, weight, 1.0)
        return np.where(usable, 7.0 * week + weekday + part - _MONDAY_SHIFT, target)


def weekday_counts(start_day: Floats, end_day: Floats) -> Floats:
    """Return how much of each weekday an interval holds.

    Parameters
    ----------
    start_day, end_day : (k,) epoch days

    Returns
    -------
    (k, 7) days, Monday first; rows sum to ``end_day - start_day``
    """
    offset = np.arange(7.0)

    def since_monday(day: Floats) -> Floats:
        shifted = (day + _MONDAY_SHIFT)[:, None] - offset
        week = np.floor(shifted / 7.0)
        return week + np.clip(shifted - 7.0 * week, 0.0, 1.0)

    return since_monday(end_day) - since_monday(start_day)


def estimate_weekday_weights(
    class_of_interval: Ints,
    start_day: Floats,
    end_day: Floats,
    cycles: Floats,
    *,
    classes: int,
    default: Floats = WORKING_WEEK,
) -> Floats:
    """Estimate each class's weekday weights from the cycles between readings.

    Parameters
    ----------
    class_of_interval : (k,) int64 in 0..classes-1
    start_day, end_day : (k,) epoch days
    cycles : (k,) cycles counted in the interval, scaled to the door's own mean rate or not
    classes : int
    default : (7,) weights used where a class has too little to say

    Returns
    -------
    (classes, 7) weights, Monday first, mean 1

    Notes
    -----
    Non-negative least squares of cycles on the days of each weekday in the interval; rows are
    divided by the root of their length, since the variance of a count grows with it. Intervals
    longer than 21 days say almost nothing about weekdays and are left out. With fewer than 60
    short intervals the default stands; above that the estimate gains weight as k / (k + 60).
    Of more than 20,000 in a class, evenly chosen ones are used.
    """
    length = end_day - start_day
    short = (length > 0.4) & (length <= 21.0) & np.isfinite(cycles)
    weights = np.tile(np.asarray(default, float) * 7.0 / np.sum(default), (classes, 1))
    for row in range(classes):
        chosen = np.flatnonzero(short & (class_of_interval == row))
        if len(chosen) < _FEWEST_INTERVALS:
            continue
        chosen = chosen[:: -(-len(chosen) // _MOST_INTERVALS)]
        root = np.sqrt(length[chosen])
        days = weekday_counts(start_day[chosen], end_day[chosen]) / root[:, None]
        solution, _ = nnls(days, cycles[chosen] / root)
        if solution.sum() <= 0:
            continue
        share = len(chosen) / (len(chosen) + _DEFAULT_WEIGHT_INTERVALS)
        weights[row] += share * (solution * 7.0 / solution.sum() - weights[row])
    return weights
