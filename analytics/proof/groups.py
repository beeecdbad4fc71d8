"""All groups of claims, and the table they are printed as."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

from analytics.proof import (
    batches,
    buying,
    cable_trend,
    counter_slips,
    demand,
    libraries,
    lives,
    mcbf_bounds,
    more_than_share,
    published,
    recurrence,
    replacement,
    speed,
    usage_and_due,
    workload,
)
from analytics.proof.claim import Claim, Effort

GROUPS: Final[dict[str, Callable[[Effort], list[Claim]]]] = {
    "published": published.claims,
    "libraries": libraries.claims,
    "usage_and_due": usage_and_due.claims,
    "counter_slips": counter_slips.claims,
    "mcbf_bounds": mcbf_bounds.claims,
    "more_than_share": more_than_share.claims,
    "lives": lives.claims,
    "recurrence": recurrence.claims,
    "replacement": replacement.claims,
    "demand": demand.claims,
    "buying": buying.claims,
    "batches": batches.claims,
    "cable_trend": cable_trend.claims,
    "workload": workload.claims,
    "speed": speed.claims,
}

HEADINGS = ("claim", "target", "measured", "holds")


def table(claims: list[Claim]) -> list[str]:
    """Lines of a plain table, one per claim."""
    rows = [HEADINGS, *(row_of(claim) for claim in claims)]
    widths = [max(len(row[k]) for row in rows) for k in range(len(HEADINGS))]
    return [
        "  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip()
        for row in rows
    ]


def row_of(claim: Claim) -> tuple[str, ...]:
    """A claim's cells in words."""
    holds = "yes" if claim.holds else "NO"
    return (f"{claim.group}: {claim.sentence}", claim.target, f"{claim.measured:.6g}", holds)
