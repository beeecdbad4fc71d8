"""Failures of doors that are repaired and go on: mean number per door against cycles."""

from __future__ import annotations

import numpy as np
from django.utils.translation import gettext as _

from analytics.assessment.reliability import MOST_POINTS, drawn_points
from analytics.charts import picture
from analytics.charts.picture import Figure
from analytics.kernel.recurrence import MeanCumulativeFunction


def failures_by_age(curve: MeanCumulativeFunction) -> Figure:
    """The mean cumulative function as steps, with its limits where there are any."""
    kept = picture.spread(drawn_points(curve), MOST_POINTS)
    # Nothing lies before the first failure: the curve starts from none.
    at, mean, low, high = (
        np.append(0.0, each[kept])
        for each in (curve.at_cycles, curve.mcf, curve.lower, curve.upper)
    )
    data = [] if curve.reason else picture.band(at, low, high, shape="hv")
    data.append(
        picture.steps(
            at,
            mean,
            colour=picture.INK,
            name=_("mean"),
            hover=_("%{y:.2f} failures per door by %{x:,.0f} cycles") + "<extra></extra>",
        )
    )
    return picture.figure(
        data,
        xaxis=picture.from_zero(_("Lifetime cycles of the door")),
        yaxis=picture.from_zero(_("Failures per door so far")),
    )
