"""What will be needed: counts ahead, their distribution, and what was used before."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from django.utils.translation import gettext as _

from analytics.charts import picture
from analytics.charts.picture import Figure
from analytics.kernel.count_distribution import CountDistribution

# A count less likely than this is not worth a bar.
LEAST_CHANCE = 5e-4
MOST_BARS = 120
FEW = 6


def failures_ahead(
    weeks: Sequence[int], mean: np.ndarray, low: np.ndarray, high: np.ndarray
) -> Figure:
    """Failures to expect by the end of each week, with the range of 8 times in 10."""
    at = np.concatenate(([0], weeks))
    expected, lowest, highest = (np.concatenate(([0.0], each)) for each in (mean, low, high))
    return picture.figure(
        [
            *picture.band(at, lowest, highest),
            picture.line(
                at,
                expected,
                colour=picture.INK,
                name=_("expected"),
                hover=_("%{y:.1f} by the end of week %{x}") + "<extra></extra>",
            ),
        ],
        xaxis=picture.from_zero(_("Weeks from now")),
        yaxis=picture.from_zero(_("Failures from now on")),
    )


def demand_distribution(demand: CountDistribution, low: int, high: int) -> Figure:
    """Chance of each number of pieces; those of the range of 8 times in 10 stand out."""
    counts = likely_counts(demand)
    chance = 100 * (demand.cdf(counts) - demand.cdf(counts - 1))
    drawn = picture.bars(
        counts,
        chance,
        colour=picture.LIGHT,
        hover=_("%{x:,.0f} pieces: %{y:.1f} %") + "<extra></extra>",
    )
    inside = (counts >= low) & (counts <= high)
    drawn["marker"] = {
        "color": np.where(inside, picture.MIDDLE, picture.LIGHT).tolist(),
        "line": {"width": 0},
    }
    return picture.figure(
        [drawn],
        xaxis={"title": _("Pieces needed"), "rangemode": "tozero", "tickformat": ",d"},
        yaxis=picture.from_zero(_("Chance (%)")),
    )


def likely_counts(demand: CountDistribution) -> np.ndarray:
    """The counts worth showing; at most so many, at even distances."""
    first = int(demand.quantile(LEAST_CHANCE)[0])
    last = int(demand.quantile(1 - LEAST_CHANCE)[0])
    step = max(1, -(-(last - first + 1) // MOST_BARS))
    return np.arange(first, last + 1, step, dtype=float)


def use_by_month(months: Sequence[str], quantity: Sequence[float]) -> Figure:
    """Pieces used in each month."""
    return picture.figure(
        [
            picture.bars(
                list(months),
                quantity,
                colour=picture.LIGHT,
                hover=_("%{x}: %{y:,.0f} pieces") + "<extra></extra>",
            )
        ],
        xaxis={"title": _("Month"), "type": "category", "nticks": 12},
        yaxis=_whole_numbers(_("Pieces used"), quantity),
    )


def positions_by_age(edges: np.ndarray, counts: np.ndarray) -> Figure:
    """How many of the fitted parts are of each age."""
    drawn = picture.bars(
        (edges[:-1] + edges[1:]) / 2,
        counts,
        colour=picture.LIGHT,
        hover=_("%{y:,.0f} fitted") + "<extra></extra>",
    )
    drawn |= {"width": picture.plain(np.diff(edges) * 0.96)}
    return picture.figure(
        [drawn],
        xaxis=picture.from_zero(_("Age (door cycles)")),
        yaxis=_whole_numbers(_("Fitted parts"), counts),
    )


def _whole_numbers(title: str, values: Sequence[float] | np.ndarray) -> Figure:
    """An axis without halves, which no count has."""
    few = max(values, default=0) <= FEW
    return picture.from_zero(title) | ({"dtick": 1} if few else {})
