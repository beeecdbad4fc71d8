"""Judges counter readings: accept, hold with a cause, and let the next reading settle it.

All doors are walked at once: the k-th reading of every door in one step, doors with the most
readings first, so that the doors still in play are always the head of every array.
"""

from __future__ import annotations

from analytics.kernel.counters import counter_of_readings, counter_timeline
from analytics.kernel.effective_days import Calendar
from analytics.kernel.exposure import CounterSegments, Doors, Readings
from analytics.kernel.judgement import DEFAULT_PLAUSIBILITY, Judgement, PlausibilitySettings
from analytics.kernel.judging import walk
from analytics.kernel.neighbours import Neighbours
from analytics.kernel.rate_filter import Rate
from analytics.kernel.scan_state import ScanInput


def judge(
    doors: Doors,
    counters: CounterSegments,
    readings: Readings,
    calendar: Calendar,
    prior: Rate,
    *,
    neighbours: Neighbours | None = None,
    settings: PlausibilitySettings = DEFAULT_PLAUSIBILITY,
) -> Judgement:
    """Judge every reading and turn the accepted ones into lifetime cycles.

    Parameters
    ----------
    doors : Doors, n
    counters : CounterSegments, in any order
    readings : Readings of the same doors
    calendar : Calendar of the same doors
    prior : Rate of similar doors, (n,), log cycles per effective day
    neighbours : Neighbours, or None; without them a value read on another truck stays unexplained
    settings : PlausibilitySettings

    Returns
    -------
    Judgement

    Raises
    ------
    ValueError
        If the inputs do not describe the same number of doors.

    Notes
    -----
    A reading is accepted if an ordinary increment, or one past the counter's highest value, is at
    least as likely as all named slips together. Otherwise it is held and the base stays. The next
    reading is tested against the base, then against the readings held and against the accepted
    reading before the last; where it follows from one of these, the walk starts again from there
    without asking. A counter lower than before is never refused. A first reading without a dated
    base is taken at its word. A person's ruling wins.
    """
    if (
        not len(doors)
        == len(readings.offsets) - 1
        == len(calendar.class_of_door)
        == len(prior.log_rate)
    ):
        raise ValueError(
            "Doors, readings, calendar and prior must describe the same doors; got "
            f"{len(doors)}, {len(readings.offsets) - 1}, {len(calendar.class_of_door)} and "
            f"{len(prior.log_rate)}."
        )
    timeline = counter_timeline(doors, counters, readings)
    counter = counter_of_readings(timeline, readings)
    given = ScanInput(doors, timeline, readings, counter, calendar, prior, neighbours, settings)
    return walk(given).judgement()
