"""How long components last."""

from __future__ import annotations

from analytics.assessment.lives import assess_components
from analytics.figures.record import Record
from analytics.figures.words import Row
from analytics.recompute.fleet_rows import life_figures

KEYS = (
    "component", "lives", "failures", "suspended", "shape", "scale_cycles", "shape_se", "scale_se",
    "loglik", "shape_median", "shape_lower", "shape_upper", "scale_median", "scale_lower",
    "scale_upper", "b10_median", "b10_lower", "b10_upper", "evidence", "fit_p",
)  # fmt: skip
TAKES = ("component", "confidence", "as_of")


def rows(record: Record) -> list[Row]:
    """One row per component on record, or the one asked for."""
    found = assess_components(record.fleet, record.lives, record.question.confidence)
    return [
        {"component": life.code, **life_figures(life), "evidence": _evidence(life.posterior)}
        for life in found
        if record.question.component in (None, life.code)
    ]


def _evidence(posterior: object) -> str | None:
    return None if posterior is None else posterior.evidence  # type: ignore[attr-defined]
