"""Mean cycles between failures by group."""

from __future__ import annotations

from analytics.assessment.groups import mcbf_of
from analytics.figures.record import Record
from analytics.figures.words import Row, number

KEYS = ("group", "doors", "cycles", "failures", "mcbf", "lower", "upper", "confidence", "bound")
TAKES = ("by", "component", "confidence", "as_of", "since")


def rows(record: Record) -> list[Row]:
    """One row per group; without a failure only a lower bound."""
    groups = record.groups()
    if not groups:
        return []
    found = mcbf_of(record.windows, groups, record.question.confidence)
    return [
        {
            "group": group.name,
            "doors": len(group.doors),
            "cycles": float(found.exposure_cycles[k]),
            "failures": int(found.failures[k]),
            "mcbf": number(found.mcbf_cycles[k]),
            "lower": number(found.lower_cycles[k]),
            "upper": number(found.upper_cycles[k]),
            "confidence": found.confidence,
            "bound": str(found.bound[k]),
        }
        for k, group in enumerate(groups)
    ]
