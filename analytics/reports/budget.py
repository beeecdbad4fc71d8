"""What parts will cost in each of the next four quarters, with a range."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from analytics.assessment.outlook import QUARTER_DAYS
from analytics.datasets.columns import Floats
from analytics.kernel.spend import Spend, spend_of
from analytics.models import PartOutlook
from analytics.reports.basis import Basis
from fleetdoors.templatetags.units import day_range, number

COVERAGE = 0.8
TOP_PARTS = 12


@dataclass(frozen=True)
class Quarter:
    """Three months ahead: from when to when, and the money."""

    begins_on: date
    ends_on: date
    spend: Spend

    def words(self) -> str:
        """Which three months."""
        return day_range(self.begins_on, self.ends_on)


@dataclass(frozen=True)
class Share:
    """One part's, or one depot's, share of the year."""

    label: str
    pieces: float
    spend: Spend


@dataclass(frozen=True)
class CurrencyBudget:
    """The year in one currency: money of different currencies is never added up."""

    currency: str
    quarters: list[Quarter]
    year: Spend
    parts: list[Share]
    depots: list[Share]


@dataclass(frozen=True)
class Budget:
    """Budgets by currency, and what they leave out."""

    currencies: list[CurrencyBudget]
    left_out: str


def budget_of(depot_ids: tuple[int, ...] | None, basis: Basis) -> Budget:
    """The next four quarters for the depots in sight; queries twice."""
    shelves = PartOutlook.objects.filter(generation=basis.run, mean__gt=0).at_depots(depot_ids)
    rows = list(shelves.with_links().order_by("part__part_number", "depot__code"))
    priced = [row for row in rows if row.part.unit_cost is not None and _is_known(row)]
    currencies = sorted({row.part.currency or "?" for row in priced})
    return Budget(
        [
            _in_currency(each, [row for row in priced if (row.part.currency or "?") == each], basis)
            for each in currencies
        ],
        _left_out(rows, priced),
    )


def _is_known(row: PartOutlook) -> bool:
    """Whether the row was computed with the quarters of a year."""
    return f"mean_by_quarter_{len(QUARTER_DAYS)}" in row.explanation


def _left_out(rows: list[PartOutlook], priced: list[PartOutlook]) -> str:
    missing = {row.part.name for row in rows} - {row.part.name for row in priced}
    if not missing:
        return ""
    return ngettext(
        "Not in it: %(parts)s, which has no cost on record.",
        "Not in it: %(parts)s, which have no cost on record.",
        len(missing),
    ) % {"parts": ", ".join(sorted(missing))}


def _in_currency(currency: str, rows: list[PartOutlook], basis: Basis) -> CurrencyBudget:
    mean, variance = _by_quarter_end(rows, "mean"), _by_quarter_end(rows, "variance")
    cost = np.array([float(row.part.unit_cost or 0) for row in rows])
    together = np.array([row.part.component_id or -row.part_id for row in rows])
    each_mean = np.diff(mean, axis=1, prepend=0.0)
    # What is not known of a level is a share of what is needed: the same share in its quarter.
    beyond_chance = np.maximum(variance - mean, 0.0)
    level = np.divide(beyond_chance, mean**2, out=np.zeros_like(mean), where=mean > 0)
    each_variance = each_mean + level * each_mean**2
    ends = [basis.today + timedelta(days=round(float(day))) for day in QUARTER_DAYS]
    begins = [basis.today, *(day + timedelta(days=1) for day in ends[:-1])]
    quarters = [
        Quarter(begins[k], ends[k], spend_of(each_mean[:, k], each_variance[:, k], cost, together))
        for k in range(len(ends))
    ]
    year_mean, year_variance = mean[:, -1], variance[:, -1]
    shares = _Year(year_mean, year_variance, cost, together)
    parts = shares.by([row.part.name for row in rows])
    return CurrencyBudget(
        currency=currency,
        quarters=quarters,
        year=spend_of(year_mean, year_variance, cost, together, COVERAGE),
        parts=parts[:TOP_PARTS],
        depots=shares.by([str(row.depot) for row in rows]),
    )


@dataclass(frozen=True)
class _Year:
    """The year's demand of every row, to be shared out."""

    mean: Floats
    variance: Floats
    cost: Floats
    together: Floats

    def by(self, labels: Sequence[str]) -> list[Share]:
        """The year by label, the dearest first."""
        found = []
        named = np.array(labels)
        for label in dict.fromkeys(labels):
            own = named == label
            spend = spend_of(
                self.mean[own], self.variance[own], self.cost[own], self.together[own], COVERAGE
            )
            found.append(Share(label, float(self.mean[own].sum()), spend))
        return sorted(found, key=lambda share: (-share.spend.mean, share.label))


def _by_quarter_end(rows: list[PartOutlook], what: str) -> Floats:
    """Mean or variance up to the end of each quarter, (rows, 4)."""
    return np.array(
        [
            [float(row.explanation[f"{what}_by_quarter_{k + 1}"]) for k in range(len(QUARTER_DAYS))]
            for row in rows
        ]
    ).reshape(len(rows), len(QUARTER_DAYS))


def money(spend: Spend, currency: str) -> str:
    """Expected money with its range."""
    return _("%(mean)s %(currency)s (%(low)s to %(high)s)") % {
        "mean": number(round(spend.mean)),
        "currency": currency,
        "low": number(round(spend.lower)),
        "high": number(round(spend.upper)),
    }
