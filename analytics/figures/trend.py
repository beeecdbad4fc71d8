"""Whether failures become more frequent with age."""

from __future__ import annotations

from analytics.assessment.groups import histories_of
from analytics.figures.record import Record
from analytics.figures.words import Row
from analytics.kernel.trend import assess_trend

KEYS = (
    "group", "failures", "laplace_u", "laplace_p", "chi2", "degrees_of_freedom", "chi2_p",
    "robust_z", "slope", "slope_unbiased", "scale", "verdict",
)  # fmt: skip
TAKES = ("by", "component", "as_of", "since")


def rows(record: Record) -> list[Row]:
    """One row per group."""
    found: list[Row] = []
    for group in record.groups():
        trend = assess_trend(histories_of(record.windows, group))
        found.append(
            {
                "group": group.name,
                "failures": trend.failures,
                "laplace_u": trend.laplace_u,
                "laplace_p": trend.laplace_p,
                "chi2": trend.chi2,
                "degrees_of_freedom": trend.degrees_of_freedom,
                "chi2_p": trend.chi2_p,
                "robust_z": trend.robust_z,
                "slope": trend.slope,
                "slope_unbiased": trend.slope_unbiased,
                "scale": trend.scale_cycles,
                "verdict": trend.verdict,
            }
        )
    return found
