"""How far each door is, and how fast it goes."""

from __future__ import annotations

import numpy as np

from analytics.figures.record import Record
from analytics.figures.words import Row, day, number
from analytics.recompute.rows import BASES

KEYS = ("door", "cycles_now", "cycles_per_day", "lower", "upper", "last_read_on", "basis")
TAKES = ("door", "depot", "as_of")


def rows(record: Record) -> list[Row]:
    """One row per door asked for."""
    usage, serials = record.usage.usage, record.fleet.doors.serials
    return [
        {
            "door": serials[k],
            "cycles_now": number(usage.cycles_now[k]),
            "cycles_per_day": float(usage.cycles_per_day[k]),
            "lower": float(usage.lower[k]),
            "upper": float(usage.upper[k]),
            "last_read_on": day(usage.last_read_day[k]),
            "basis": BASES[usage.basis[k]],
        }
        for k in np.flatnonzero(record.doors_asked_for()).tolist()
    ]
