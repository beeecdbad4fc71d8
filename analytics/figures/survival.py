"""Share of parts that outlive each age."""

from __future__ import annotations

from analytics.figures.options import WrongUsageError
from analytics.figures.record import Record
from analytics.figures.words import Row
from analytics.kernel.lifetimes import NotEstimableError
from analytics.kernel.survival import product_limit

KEYS = ("at_cycles", "at_risk", "failures", "survival", "standard_error", "lower", "upper")
TAKES = ("component", "confidence", "as_of")


def rows(record: Record) -> list[Row]:
    """One row per distinct age at which the component failed; none where it never has."""
    if record.component_id is None:
        raise WrongUsageError("survival needs --component: lives of different parts do not mix.")
    try:
        curve = product_limit(
            record.lives.of_component(record.component_id), record.question.confidence
        )
    except NotEstimableError:
        return []
    return [
        {
            "at_cycles": float(curve.at_cycles[k]),
            "at_risk": float(curve.at_risk[k]),
            "failures": float(curve.failures[k]),
            "survival": float(curve.survival[k]),
            "standard_error": float(curve.standard_error[k]),
            "lower": float(curve.lower[k]),
            "upper": float(curve.upper[k]),
        }
        for k in range(len(curve.at_cycles))
    ]
