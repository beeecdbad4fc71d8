"""The coil cable of one door: measurements paired, parted at cable changes, and judged."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analytics.datasets.cable_work import CableWorkRows
from analytics.datasets.columns import Flags, Floats, Ints
from analytics.datasets.measurements import MeasurementRows
from analytics.kernel.cable_trend import (
    DEFAULT_CABLE_LIMITS,
    CableFound,
    CableLimits,
    CableTrend,
    assess_cable,
    corrected_resistance,
    fit_cable_trend,
)
from analytics.kernel.lifetimes import NotEstimableError

COLDEST = -60.0


@dataclass(frozen=True)
class CablePairs:
    """What board and motor end read in one run, (k,), the earliest first.

    `stretch` counts the changes of the cable before; `left_out` those that say nothing: without a
    current, more volts at the motor than at the board, or no cycles known.
    """

    row: Ints
    day: Floats
    at_cycles: Floats
    board_volts: Floats
    drop_volts: Floats
    amps: Floats
    celsius: Floats
    stretch: Ints
    left_out: int


@dataclass(frozen=True)
class CableAssessed:
    """Resistance at every pair, and what the present cable comes to (None = not measured yet)."""

    pairs: CablePairs
    ohm: Floats
    is_present: Flags
    changed_day: float | None
    found: CableFound | None
    watch_ohm: float
    watch_trend: CableTrend | None
    jumps: Ints

    @property
    def used(self) -> Ints:
        """Pairs that the verdict on the present cable rests on."""
        if self.found is None:
            return np.zeros(0, np.int64)
        return np.flatnonzero(self.is_present)[self.found.used]


def pair_measurements(rows: MeasurementRows, at_cycles: Floats, work: CableWorkRows) -> CablePairs:
    """Pair the two voltages of each run of one door; lifetime cycles by measurement, (n,)."""
    boards = {_run_of(rows, row): row for row in rows.of("board_output").tolist()}
    pairs = [
        (boards[run], row)
        for row in rows.of("motor_end").tolist()
        if (run := _run_of(rows, row)) in boards
    ]
    board, motor = np.array(pairs, dtype=np.int64).reshape(-1, 2).T
    drop, amps = rows.value[board] - rows.value[motor], rows.amps[motor]
    usable = (drop >= 0) & (amps > 0) & ~(rows.celsius[motor] <= COLDEST)
    usable &= np.isfinite(at_cycles[motor]) & (rows.value[board] > 0)
    board, motor = board[usable], motor[usable]
    return CablePairs(
        row=motor,
        day=rows.day[motor],
        at_cycles=at_cycles[motor],
        board_volts=rows.value[board],
        drop_volts=drop[usable],
        amps=rows.amps[motor],
        celsius=rows.celsius[motor],
        stretch=_stretches(rows.day[motor], rows.is_when_new[motor], work),
        left_out=int((~usable).sum()),
    )


def _run_of(rows: MeasurementRows, row: int) -> tuple[int, int]:
    """What two measurements of one run have in common: their inspection, or else their moment."""
    inspection = int(rows.inspection[row])
    return (inspection, 0) if inspection >= 0 else (-1, int(rows.epoch[row]))


def _stretches(day: Floats, is_when_new: Flags, work: CableWorkRows) -> Ints:
    """How often the cable had been changed before each pair.

    Of the day on which a cable was fitted it is not known what came first. A measurement of that
    day is of the cable before, so that a bad one never becomes the new one's value when new;
    unless the inspection says that the door was put into service, or the repair has its moment.
    """
    begun = np.where(
        (work.is_fitted & ~_has_moment(work))[None, :] & ~is_when_new[:, None],
        work.day[None, :] + 1,
        work.day[None, :],
    )
    return (day[:, None] >= begun).sum(axis=1)


def _has_moment(work: CableWorkRows) -> Flags:
    """Fitted cables whose day also has a repair of the cable: its moment parts the day."""
    return np.isin(np.floor(work.day), np.floor(work.day[~work.is_fitted]))


def assess_door_cable(
    pairs: CablePairs, work: CableWorkRows, *, limits: CableLimits = DEFAULT_CABLE_LIMITS
) -> CableAssessed:
    """Judge the cable that is on the door now by what was measured since it was changed."""
    ohm = corrected_resistance(pairs.drop_volts, pairs.amps, pairs.celsius)
    # A resistance of nothing is a meter read twice at the same end.
    present = (pairs.stretch == len(work.day)) & (ohm > 0)
    changed_day = float(work.day[-1]) if len(work.day) else None
    rows = np.flatnonzero(present)
    if len(rows) == 0:
        none = np.zeros(0, np.int64)
        return CableAssessed(pairs, ohm, present, changed_day, None, np.nan, None, none)
    found = assess_cable(
        pairs.at_cycles[rows],
        pairs.drop_volts[rows],
        pairs.amps[rows],
        pairs.celsius[rows],
        float(np.median(pairs.board_volts[rows])),
        limits=limits,
    )
    used = rows[found.used]
    watch = limits.watch_factor * found.as_new_ohm
    return CableAssessed(
        pairs=pairs,
        ohm=ohm,
        is_present=present,
        changed_day=changed_day,
        found=found,
        watch_ohm=watch,
        watch_trend=_trend_to(pairs.at_cycles[used], ohm[used], watch),
        jumps=used[1:][ohm[used][1:] > (1 + limits.sudden_rise) * ohm[used][:-1]],
    )


def _trend_to(cycles: Floats, ohm: Floats, limit_ohm: float) -> CableTrend | None:
    try:
        return fit_cable_trend(cycles, ohm, limit_ohm)
    except NotEstimableError:
        return None
