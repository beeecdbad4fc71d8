"""Mean cumulative number of failures per door by age."""

from __future__ import annotations

from analytics.assessment.groups import histories_of
from analytics.figures.record import Record
from analytics.figures.words import Row, number
from analytics.kernel.recurrence import mean_cumulative_function

KEYS = (
    "group", "at_cycles", "at_risk", "failures", "mcf", "standard_error", "lower", "upper",
)  # fmt: skip
TAKES = ("by", "component", "confidence", "as_of", "since")


def rows(record: Record) -> list[Row]:
    """One row per group and distinct age with a failure."""
    found: list[Row] = []
    for group in record.groups():
        curve = mean_cumulative_function(
            histories_of(record.windows, group), record.question.confidence
        )
        found.extend(
            {
                "group": group.name,
                "at_cycles": float(curve.at_cycles[k]),
                "at_risk": int(curve.at_risk[k]),
                "failures": int(curve.failures[k]),
                "mcf": float(curve.mcf[k]),
                "standard_error": number(curve.standard_error[k]),
                "lower": number(curve.lower[k]),
                "upper": number(curve.upper[k]),
            }
            for k in range(len(curve.at_cycles))
        )
    return found
