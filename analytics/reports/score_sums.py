"""Sums of the score by month and group, ready to be divided."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

import numpy as np
from django.db.models import Sum

from analytics.datasets.columns import Floats
from analytics.models import Computation, Measure, ScoreMonth

RECENT_MONTHS = 3


@dataclass(frozen=True)
class Sums:
    """Amounts and what they are out of, by month, the present one last; one measure."""

    amount: Floats
    out_of: Floats

    @property
    def past(self) -> Sums:
        """The complete months."""
        return Sums(self.amount[:-1], self.out_of[:-1])

    @property
    def total(self) -> float:
        """The amount of all months."""
        return float(self.amount.sum())

    @property
    def base(self) -> float:
        """What it is out of, in all months."""
        return float(self.out_of.sum())

    @property
    def share(self) -> float | None:
        """One over the other; None without a base."""
        return self.total / self.base if self.base > 0 else None

    def by_month(self) -> list[float | None]:
        """Each month's share."""
        return [
            amount / base if base > 0 else None
            for amount, base in zip(self.amount.tolist(), self.out_of.tolist(), strict=True)
        ]

    def month(self, k: int) -> Sums:
        """One month alone."""
        return Sums(self.amount[k : k + 1], self.out_of[k : k + 1])

    def last(self) -> Sums:
        """The present month alone: what stands now."""
        return Sums(self.amount[-1:], self.out_of[-1:])

    def recent(self) -> Sums:
        """The last complete months."""
        return Sums(self.past.amount[-RECENT_MONTHS:], self.past.out_of[-RECENT_MONTHS:])

    def before(self) -> Sums:
        """The complete months before these."""
        return Sums(self.past.amount[:-RECENT_MONTHS], self.past.out_of[:-RECENT_MONTHS])


@dataclass(frozen=True)
class ScoreTable:
    """Sums by group id and measure; `months` are first days."""

    months: tuple[date, ...]
    groups: dict[int, dict[str, Sums]]

    def of(self, group: int, measure: Measure) -> Sums:
        """One measure of one group; nothing counted is nothing out of nothing."""
        return self.groups.get(group, {}).get(measure.value, self._nothing())

    def whole(self, measure: Measure) -> Sums:
        """One measure of all groups together."""
        rows = [self.of(group, measure) for group in self.groups]
        if not rows:
            return self._nothing()
        return Sums(
            np.sum([each.amount for each in rows], axis=0),
            np.sum([each.out_of for each in rows], axis=0),
        )

    def _nothing(self) -> Sums:
        zeros = np.zeros(len(self.months))
        return Sums(zeros, zeros)


def fetch_score(
    run: Computation,
    depot_ids: tuple[int, ...] | None,
    door_model_id: int | None,
    group_by: str,
) -> ScoreTable:
    """Sums of the doors in sight by `depot` or `door_model`; runs one query."""
    rows = (
        ScoreMonth.objects.filter(generation=run)
        .at_depots(depot_ids)
        .of_model(door_model_id)
        .filter(depot__isnull=False)
        .order_by()
        .values(group_by, "measure", "month_on")
        .annotate(total=Sum("amount"), base=Sum("out_of"))
    )
    found = list(rows)
    months = tuple(sorted({row["month_on"] for row in found}))
    place = {month: k for k, month in enumerate(months)}
    table: dict[int, dict[str, Sums]] = {}
    for row in found:
        of_group = table.setdefault(row[group_by], {})
        sums = of_group.setdefault(
            row["measure"], Sums(np.zeros(len(months)), np.zeros(len(months)))
        )
        sums.amount[place[row["month_on"]]] = row["total"]
        sums.out_of[place[row["month_on"]]] = row["base"]
    return ScoreTable(months, table)
