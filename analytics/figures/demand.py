"""How many of each part each depot will need."""

from __future__ import annotations

from analytics.assessment.lives import assess_components
from analytics.assessment.outlook import Outlook
from analytics.assessment.whole import assess_parts
from analytics.datasets import fetch_parts_record
from analytics.datasets.demand_factors import fetch_demand_factors
from analytics.datasets.fleet import PartsRecord
from analytics.demand_reason import demand_reason
from analytics.figures.record import Record
from analytics.figures.words import Row, day
from analytics.recompute.fleet_rows import outlook_figures

KEYS = (
    "part", "depot", "horizon_days", "mean", "p05", "p10", "p50", "p90", "p95", "method",
    "on_hand", "on_order", "reorder_point", "order_up_to", "suggested_order", "run_out_on",
    "reason",
)  # fmt: skip
TAKES = ("part", "depot", "horizon", "as_of")


def rows(record: Record) -> list[Row]:
    """One row per part and depot, also without stock or use."""
    question, fleet = record.question, record.fleet
    parts = fetch_parts_record(fleet.doors)
    outlooks = assess_parts(
        fleet,
        parts,
        record.usage,
        record.exposure,
        lives=assess_components(fleet, record.lives, question.confidence),
        factors=fetch_demand_factors(question.as_of),
        horizon_days=question.horizon_days,
    )
    found = (_row(record, parts, each) for each in outlooks)
    return [
        row
        for row in found
        if question.part in (None, row["part"]) and question.depot in (None, row["depot"])
    ]


def _row(record: Record, parts: PartsRecord, outlook: Outlook) -> Row:
    figures = outlook_figures(outlook)
    run_out = outlook.run_out_day
    return {
        "part": parts.parts.numbers[outlook.demand.part],
        "depot": record.fleet.doors.depots.codes[outlook.demand.depot],
        "horizon_days": record.question.horizon_days,
        **figures,
        "run_out_on": None if run_out is None else day(run_out),
        "reason": demand_reason(
            method=figures["method"],
            basis=outlook.basis,
            on_hand=outlook.on_hand,
            suggested_order=outlook.suggested_order,
        ),
    }
