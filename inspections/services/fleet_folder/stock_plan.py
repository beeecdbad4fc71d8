"""What an import would do to the stock: a count without a day is a count made now.

What the file leaves empty is carried over from the count before. The same figures as in the latest
count change nothing; other figures for a moment that was counted already are a correction.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from django.utils.translation import gettext as _

from inspections.models import StockCount
from inspections.services.fleet_folder.errors import Problems
from inspections.services.fleet_folder.keyed_plan import Row
from inspections.services.fleet_folder.outcomes import Outcome
from inspections.services.fleet_folder.sheets import Sheet

FIGURES = ("on_hand", "on_order", "expected_on", "service_level")
Figures = tuple[Any, ...]


@dataclass(frozen=True)
class Count:
    """A count of the database."""

    pk: int
    counted_at: datetime
    entered_at: datetime
    figures: Figures
    is_in_force: bool


@dataclass(frozen=True)
class StockEntry:
    """A count to add, and the one that it corrects."""

    depot: str
    part: str
    counted_at: datetime
    entered_at: datetime
    figures: Figures
    corrects: int | None = None


@dataclass
class StockPlan:
    """Counts to add, and what becomes of each row of the file."""

    new: list[StockEntry] = field(default_factory=list)
    outcomes: dict[int, Outcome] = field(default_factory=dict)


def plan_stock(sheet: Sheet, problems: Problems, now: datetime) -> StockPlan:
    """Plan the rows of the stock table."""
    plan = StockPlan()
    counts = _counts_by_place() if len(sheet) else {}
    seen: dict[tuple[Any, ...], tuple[int, Figures]] = {}
    for number, row in sheet.rows():
        key = (row["depot"], row["part"], row["counted_on"])
        figures = tuple(row[name] for name in FIGURES)
        first = seen.setdefault(key, (number, figures))
        if first[1] != figures:
            problems.add(
                sheet.file,
                _("row %(first)d has another count of this part in this depot")
                % {"first": first[0]},
                row=number,
                column="on_hand",
                value=row["on_hand"],
            )
        if first[0] != number:
            plan.outcomes[number] = Outcome.UNCHANGED
        else:
            plan.outcomes[number] = _take(plan, row, figures, counts.get(key[:2], []), now)
    return plan


def _take(
    plan: StockPlan, row: Row, figures: Figures, counts: list[Count], now: datetime
) -> Outcome:
    counted_at = row["counted_on"] or now
    standing = [count for count in counts if count.is_in_force]
    same = [count for count in standing if count.counted_at == row["counted_on"]]
    earlier = [count for count in standing if count.counted_at <= counted_at]
    before = next(iter(same or earlier[-1:]), None)
    filled = _filled(figures, before.figures if before else (None, None, None, None))
    entry = StockEntry(
        row["depot"], row["part"], counted_at, row["entered_at"] or counted_at, filled
    )
    if before and filled == before.figures and (same or row["counted_on"] is None):
        return Outcome.UNCHANGED
    if not same:
        plan.new.append(entry)
        return Outcome.NEW if row["counted_on"] or not before else Outcome.CHANGED
    if any(c.counted_at == counted_at and c.figures == filled for c in counts):
        return Outcome.UNCHANGED
    plan.new.append(_correction(entry, same[0], now))
    return Outcome.CORRECTED


def _correction(entry: StockEntry, old: Count, now: datetime) -> StockEntry:
    is_later = entry.entered_at > old.entered_at
    entered_at = entry.entered_at if is_later else max(now, old.entered_at)
    return StockEntry(entry.depot, entry.part, entry.counted_at, entered_at, entry.figures, old.pk)


def _filled(figures: Figures, before: Figures) -> Figures:
    on_hand, on_order, expected_on, service_level = (
        old if new is None else new for new, old in zip(figures, before, strict=True)
    )
    # Nothing on order is expected on no day.
    return on_hand, on_order or 0, expected_on if on_order else None, service_level


def _counts_by_place() -> dict[tuple[str, str], list[Count]]:
    counts: dict[tuple[str, str], list[Count]] = {}
    # The table speaks of the depot's shelf: what was counted in a van is not in it.
    shelf_counts = StockCount.objects.filter(place__isnull=True)
    rows = shelf_counts.order_by("counted_at", "pk").values_list(
        "depot__code",
        "part__part_number",
        "pk",
        "counted_at",
        "entered_at",
        "superseded_at",
        *FIGURES,
    )
    for depot, part, pk, counted_at, entered_at, superseded_at, *figures in rows.iterator():
        counts.setdefault((depot, part), []).append(
            Count(pk, counted_at, entered_at, tuple(figures), superseded_at is None)
        )
    return counts
