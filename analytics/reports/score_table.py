"""Depots or door models side by side, each figure with its n."""

from __future__ import annotations

from dataclasses import dataclass

from django.utils.translation import gettext as _

from analytics.models import Measure
from analytics.reports.score_cost import cost_per_thousand
from analytics.reports.score_measures import share_words
from analytics.reports.score_sums import ScoreTable, Sums
from fleetdoors.templatetags.units import number


@dataclass(frozen=True)
class Comparison:
    """Headings and rows; each cell is a figure and what it is out of."""

    headings: list[str]
    rows: list[tuple[str, list[tuple[str, str]]]]


def compare(
    table: ScoreTable, names: dict[int, str], *, early_counts: bool, rate: float | None
) -> Comparison:
    """Every group by name."""
    return Comparison(
        headings=[
            _("Tasks in time"),
            _("Past their window"),
            _("Planned work"),
            _("Available"),
            _("Came back"),
            _("None found"),
            _("Defects a visit"),
            _("Read within 30 days"),
            _("Cost of 1,000 cycles"),
        ],
        rows=[
            (name, _cells(table, group, early_counts=early_counts, rate=rate))
            for group, name in sorted(names.items(), key=lambda item: item[1])
        ],
    )


def _cells(
    table: ScoreTable, group: int, *, early_counts: bool, rate: float | None
) -> list[tuple[str, str]]:
    def sums(measure: Measure) -> Sums:
        return table.of(group, measure)

    on_time, early = sums(Measure.ON_TIME).past, sums(Measure.EARLY).past
    kept = Sums(on_time.amount + early.amount if early_counts else on_time.amount, on_time.out_of)
    overdue, fresh = sums(Measure.OVERDUE).last(), sums(Measure.FRESH).last()
    planned, off = sums(Measure.PLANNED).past, sums(Measure.OFF_ROAD).past
    cost = cost_per_thousand(lambda measure: sums(measure).past, rate)
    return [
        _cell(kept),
        (number(overdue.total), _out_of(overdue.base)),
        (share_words(planned), _("of %(n)s h") % {"n": number(planned.base / 60)}),
        (share_words(off, is_rest=True, decimals=2), _("of %(n)s days") % {"n": number(off.base)}),
        *(_cell(sums(each).past) for each in (Measure.REPEATS, Measure.NONE_FOUND, Measure.FOUND)),
        _cell(fresh),
        (number(cost, 2), _("%(n)s cycles") % {"n": number(sums(Measure.PARTS_COST).past.base)}),
    ]


def _cell(sums: Sums) -> tuple[str, str]:
    return share_words(sums), _out_of(sums.base)


def _out_of(base: float) -> str:
    return _("of %(n)s") % {"n": number(base)}
