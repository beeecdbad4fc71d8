"""Lives of components and outlooks of parts, as columns of their derived tables."""

from __future__ import annotations

import json
from typing import Any

import numpy as np

from analytics.assessment.lives import ComponentLifeFound
from analytics.assessment.outlook import Outlook
from analytics.datasets.fleet import Fleet, PartsRecord
from analytics.recompute import values
from analytics.recompute.store import Columns


def life_figures(life: ComponentLifeFound) -> dict[str, Any]:
    """A component's life under the names of its columns; None where it cannot be given."""
    fit, posterior = life.fit, life.posterior
    summary = posterior.summary() if posterior else None
    return {
        "lives": int(life.lives.lives),
        "failures": int(life.lives.failures),
        "suspended": int(life.lives.suspensions),
        "shape": fit.shape if fit else None,
        "scale_cycles": fit.scale_cycles if fit else None,
        "shape_se": fit.shape_se if fit else None,
        "scale_se": fit.scale_se_cycles if fit else None,
        "loglik": fit.loglik if fit else None,
        "shape_median": summary.shape_median if summary else None,
        "shape_lower": summary.shape_lower if summary else None,
        "shape_upper": summary.shape_upper if summary else None,
        "scale_median": summary.scale_median_cycles if summary else None,
        "scale_lower": summary.scale_lower_cycles if summary else None,
        "scale_upper": summary.scale_upper_cycles if summary else None,
        "b10_median": summary.b10_median_cycles if summary else None,
        "b10_lower": summary.b10_lower_cycles if summary else None,
        "b10_upper": summary.b10_upper_cycles if summary else None,
        "evidence": posterior.evidence if posterior else "",
        "fit_p": life.fit_p,
    }


def life_columns(generation_id: int, lives: tuple[ComponentLifeFound, ...]) -> Columns:
    """One row per component."""
    rows = [
        {
            "generation": generation_id,
            "component": life.component_id,
            **life_figures(life),
            "reason": life.reason[:300],
        }
        for life in lives
    ]
    return _turned(rows)


def outlook_columns(
    generation_id: int,
    fleet: Fleet,
    record: PartsRecord,
    outlooks: list[Outlook],
    horizon_days: int,
) -> Columns:
    """One row per part and depot."""
    run_out = np.array(
        [np.nan if each.run_out_day is None else each.run_out_day for each in outlooks], dtype=float
    )
    rows = [
        {
            "generation": generation_id,
            "part": int(record.parts.ids[each.demand.part]),
            "depot": int(fleet.doors.depots.ids[each.demand.depot]),
            "horizon_days": horizon_days,
            **outlook_figures(each),
            "variance": each.variance,
            "service_level": each.service_level,
            "fill_rate": each.fill_rate,
            "run_out_on": day,
            "explanation": json.dumps(each.basis),
        }
        for each, day in zip(outlooks, values.dates(run_out), strict=True)
    ]
    return _turned(rows)


def outlook_figures(outlook: Outlook) -> dict[str, Any]:
    """The figures of an outlook under the names of their columns."""
    p05, p10, p50, p90, p95 = outlook.quantiles
    return {
        "mean": outlook.mean,
        "p05": p05,
        "p10": p10,
        "p50": p50,
        "p90": p90,
        "p95": p95,
        "method": outlook.demand.method.value,
        "on_hand": outlook.on_hand,
        "on_order": outlook.on_order,
        "reorder_point": outlook.reorder_point,
        "order_up_to": outlook.order_up_to,
        "suggested_order": outlook.suggested_order,
    }


def _turned(rows: list[dict[str, Any]]) -> Columns:
    return {name: [row[name] for row in rows] for name in rows[0]} if rows else {}
