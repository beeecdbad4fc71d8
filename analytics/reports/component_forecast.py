"""How many of a component will fail in the weeks ahead."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from analytics.charts.demand import failures_ahead
from analytics.charts.picture import Picture
from analytics.datasets.positions import FittedParts
from analytics.kernel.count_distribution import match_counts
from analytics.kernel.demand import (
    BaseDemand,
    bin_positions,
    bin_unknown_ages,
    forecast_base_demand,
)
from analytics.kernel.posterior import WeibullDraws
from analytics.reports.component_evidence import ComponentEvidence
from fleetdoors.templatetags.units import between, number

WEEKS = tuple(range(1, 14))
_DAYS_OF_WEEK = 7.0


@dataclass(frozen=True)
class ForecastShown:
    """The sentence, and the picture where there is something to foresee."""

    sentence: str
    picture: Picture | None


def forecast_shown(found: ComponentEvidence, fitted: FittedParts) -> ForecastShown:
    """Failures by the end of each of the next weeks, over the parts fitted in sight."""
    if not found.is_estimated:
        return ForecastShown(_("The life is not known well enough to foresee failures."), None)
    if len(fitted) == 0:
        return ForecastShown(_("None is fitted on a door in service in sight."), None)
    demand = base_demand(found.forecast_draws(), fitted, _DAYS_OF_WEEK * np.array(WEEKS))
    counts = match_counts(demand.mean, demand.variance)
    low, high = counts.quantile(np.full(len(WEEKS), 0.1)), counts.quantile(np.full(len(WEEKS), 0.9))
    finding = _("About %(mean)s will fail within %(weeks)s weeks (%(range)s, 8 times in 10)") % {
        "mean": number(float(demand.mean[-1]), 1),
        "weeks": number(WEEKS[-1]),
        "range": between(float(low[-1]), float(high[-1])),
    }
    return ForecastShown(
        sentence=_not_checked(found),
        picture=Picture(
            id="failures-ahead",
            finding=finding,
            note=_note(fitted),
            figure=failures_ahead(WEEKS, demand.mean, low, high),
            headings=[_("Weeks from now"), _("Expected"), _("Low (1 in 10)"), _("High (1 in 10)")],
            rows=[
                [
                    number(week),
                    number(float(demand.mean[k]), 1),
                    number(float(low[k])),
                    number(float(high[k])),
                ]
                for k, week in enumerate(WEEKS)
            ],
        ),
    )


def base_demand(draws: WeibullDraws, fitted: FittedParts, days: np.ndarray) -> BaseDemand:
    """Replacements of the fitted parts within days ahead, known ages and unknown ones."""
    known = ~np.isnan(fitted.age_cycles)
    rate = fitted.cycles_per_day
    return forecast_base_demand(
        draws,
        days,
        bin_positions(fitted.age_cycles[known], rate[known]) if known.any() else None,
        bin_unknown_ages(fitted.ceiling_cycles[~known], fitted.since_cycles[~known], rate[~known])
        if (~known).any()
        else None,
    )


def _not_checked(found: ComponentEvidence) -> str:
    said = _(
        "From the age of each fitted part, its door's cycles a day and the likely lives above. "
        "Planned changes are not in it, nor what past weeks taught."
    )
    return _("%(said)s Mostly prior.") % {"said": said} if found.is_mostly_prior else said


def _note(fitted: FittedParts) -> str:
    unknown = int(np.isnan(fitted.age_cycles).sum())
    fitted_words = ngettext("%(n)s fitted in sight", "%(n)s fitted in sight", len(fitted)) % {
        "n": number(len(fitted))
    }
    if not unknown:
        return _("%(fitted)s, all of known age.") % {"fitted": fitted_words}
    return _("%(fitted)s, %(unknown)s of unknown age, averaged over the ages they may have.") % {
        "fitted": fitted_words,
        "unknown": number(unknown),
    }
