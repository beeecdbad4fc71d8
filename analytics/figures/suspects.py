"""Readings that are not accepted at present."""

from __future__ import annotations

import numpy as np

from analytics.figures.record import Record
from analytics.figures.words import Row, moment, number
from analytics.recompute.rows import CAUSES
from analytics.recompute.values import whole_numbers
from inspections.models import ReadingStatus

KEYS = (
    "door", "read_at", "counter_value", "cause", "probability", "suggestion",
    "suggestion_probability", "status",
)  # fmt: skip
TAKES = ("depot", "as_of")


def rows(record: Record) -> list[Row]:
    """One row per held reading, door after door in order of time."""
    judgement, readings = record.usage.followed.judgement, record.fleet.readings
    door = readings.kernel.door()
    chosen = np.flatnonzero(judgement.held & record.doors_asked_for()[door])
    suggestions = whole_numbers(judgement.suggested_value[chosen])
    day = record.fleet.doors.wall_days(door[chosen], readings.epoch[chosen])
    return [
        {
            "door": record.fleet.doors.serials[door[row]],
            "read_at": moment(float(day[k])),
            "counter_value": int(readings.kernel.value[row]),
            "cause": CAUSES[judgement.cause[row]],
            "probability": number(judgement.probability[row]),
            "suggestion": suggestions[k],
            "suggestion_probability": number(judgement.suggested_probability[row]),
            "status": ReadingStatus.HELD.value,
        }
        for k, row in enumerate(chosen.tolist())
    ]
