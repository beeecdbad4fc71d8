"""Whether failures become more frequent with age, in words, with the curve and the tests."""

from __future__ import annotations

from dataclasses import dataclass

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from analytics.assessment.reliability import MOST_ROWS, drawn_points
from analytics.charts.picture import Picture, spread
from analytics.charts.recurrence import failures_by_age
from analytics.kernel.recurrence import MeanCumulativeFunction
from analytics.kernel.trend import (
    DETERIORATING,
    IMPROVING,
    NO_TREND,
    POSSIBLY,
    TOO_FEW,
    Trend,
)
from analytics.reports.evidence import Evidence
from analytics.reports.kernel_words import why_missing
from analytics.reports.reliability_power_law import power_law_evidence
from analytics.reports.reliability_scope import Scope
from fleetdoors.templatetags.units import cycles, number, per_cent


@dataclass(frozen=True)
class TrendShown:
    """The verdict, what limits it, the figures behind it, and the curve if one can be drawn."""

    verdict: str
    limit: str
    evidence: list[Evidence]
    picture: Picture | None


def trend_of(scope: Scope) -> TrendShown:
    """All doors in sight together, the failures that count."""
    figures = scope.figures
    verdict = _VERDICTS[figures.trend.verdict]()
    if figures.curve is None:
        return TrendShown(verdict, why_missing(figures.trend.reason), [], None)
    return TrendShown(
        verdict,
        why_missing(figures.trend.reason),
        [*_evidence(figures.trend), *power_law_evidence(figures.fit)],
        _picture(verdict, figures.curve, scope),
    )


_VERDICTS = {
    DETERIORATING: lambda: _("Failures become more frequent with age"),
    POSSIBLY: lambda: _("Failures may become more frequent with age; it is not proven"),
    IMPROVING: lambda: _("Failures become less frequent with age"),
    NO_TREND: lambda: _("No change of the failures with age can be seen"),
    TOO_FEW: lambda: _("Too few failures to see a change with age"),
}


def _picture(verdict: str, curve: MeanCumulativeFunction, scope: Scope) -> Picture:
    last = drawn_points(curve) - 1
    reached = _("%(verdict)s: %(mean)s failures per door by %(at)s") % {
        "verdict": verdict,
        "mean": number(float(curve.mcf[last]), 1),
        "at": cycles(float(curve.at_cycles[last])),
    }
    return Picture(
        id="failures-by-age",
        finding=reached,
        note=_note(curve, scope),
        figure=failures_by_age(curve),
        headings=[
            _("Cycles"),
            _("Doors at risk"),
            _("Failures at that age"),
            _("Failures per door so far"),
            _("Lower"),
            _("Upper"),
        ],
        rows=[_row(curve, k) for k in spread(len(curve.at_cycles), MOST_ROWS)],
    )


def _note(curve: MeanCumulativeFunction, scope: Scope) -> str:
    failures = scope.figures.failures
    counted = ngettext("%(n)s failure on", "%(n)s failures on", failures) % {"n": number(failures)}
    doors = ngettext("%(n)s door", "%(n)s doors", scope.figures.doors) % {
        "n": number(scope.figures.doors)
    }
    if curve.reason:
        return f"{counted} {doors}. {why_missing(curve.reason)}"
    return _(
        "%(counted)s %(doors)s. The band holds the mean 9 times in 10, by the spread from door "
        "to door. Drawn to the age at which %(risk)s doors are left; the numbers go on."
    ) % {
        "counted": counted,
        "doors": doors,
        "risk": number(int(curve.at_risk[drawn_points(curve) - 1])),
    }


def _row(curve: MeanCumulativeFunction, k: int) -> list[str]:
    return [
        number(float(curve.at_cycles[k])),
        number(int(curve.at_risk[k])),
        number(int(curve.failures[k])),
        number(float(curve.mcf[k]), 2),
        number(float(curve.lower[k]), 2),
        number(float(curve.upper[k]), 2),
    ]


def _evidence(trend: Trend) -> list[Evidence]:
    lines = [
        Evidence(
            _("Robust score"),
            number(trend.robust_z, 2),
            _("decides: above 2.33 more frequent, above 1.65 perhaps, below −2.33 less frequent"),
        ),
        Evidence(
            _("Slope"),
            number(trend.slope, 2),
            _("of the power law: 1 is steady, above 1 more frequent with age")
            if trend.slope is not None
            else _("none fits: the failures are too few, or lie at the edge of what was seen"),
        ),
        Evidence(
            _("Laplace test"),
            number(trend.laplace_u, 2),
            _("p %(p)s; misled by repairs that come in clusters") % {"p": _p(trend.laplace_p)},
        ),
    ]
    if trend.chi2 is not None:
        lines.append(
            Evidence(
                _("Chi-square test"),
                number(trend.chi2, 1),
                _("on %(df)s degrees of freedom, p %(p)s")
                % {"df": number(trend.degrees_of_freedom), "p": _p(trend.chi2_p)},
            )
        )
    return lines


def _p(value: float | None) -> str:
    return per_cent(value, 1)
