"""How long a component lasts, said in sentences, with the pictures behind them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from analytics.charts.picture import Picture, spread
from analytics.charts.survival import AgeBands, hazard_chart, probability_plot, survival_chart
from analytics.reports.component_evidence import ComponentEvidence, Spread
from analytics.reports.component_words import (
    about,
    fit_words,
    lives_words,
    prior_words,
    shape_words,
)
from analytics.reports.evidence import Evidence
from analytics.reports.kernel_words import why_missing
from fleetdoors.templatetags.units import between, cycles, number

POINTS_FOR_PLOT = 3
# Five bands want one failure each before their heights say anything.
FAILURES_FOR_BARS = 5


@dataclass(frozen=True)
class LifeShown:
    """The sentences about a life, its figures, and its pictures (None where there is nothing)."""

    sentence: str
    prior: str
    rests_on: str
    fit: str
    facts: list[Evidence]
    survival: Picture | None
    plot: Picture | None
    hazard: Picture | None


def life_shown(found: ComponentEvidence) -> LifeShown:
    """Everything about the life of one component."""
    return LifeShown(
        sentence=_sentence(found),
        prior=prior_words(found),
        rests_on=lives_words(found),
        fit=fit_words(found),
        facts=_facts(found),
        survival=_survival(found),
        plot=_plot(found),
        hazard=_hazard(found),
    )


def _sentence(found: ComponentEvidence) -> str:
    life = found.life
    if not found.is_known:
        return why_missing(life.reason) or _("Nothing is known of this life yet.")
    if not found.is_estimated:
        return _("%(reason)s Of 100, at least 90 still run at %(age)s cycles, 19 times in 20.") % {
            "reason": why_missing(life.reason)
            or _("No failure in %(n)s.") % {"n": _n_lives(life.lives)},
            "age": about(life.b10_lower or 0.0),
        }
    half = found.age_by_which(0.5)
    said = _(
        "Of 100, about 90 still run at %(tenth)s cycles (%(tenth_range)s) and half at %(half)s "
        "(%(half_range)s)."
    ) % {
        "tenth": about(life.b10_median or 0.0),
        "tenth_range": _about_range(life.b10_lower or 0.0, life.b10_upper or 0.0),
        "half": about(half.middle),
        "half_range": _about_range(half.lower, half.upper),
    }
    longest = found.figures.get("longest_cycles") or 0.0
    if half.middle > longest:
        return _(
            "%(said)s The half lies beyond the oldest life seen, %(longest)s: there the curve is "
            "drawn on."
        ) % {"said": said, "longest": cycles(longest)}
    return said


def _facts(found: ComponentEvidence) -> list[Evidence]:
    life = found.life
    if not found.is_estimated:
        return []
    return [
        Evidence(
            _("10 of 100 have failed by"),
            cycles(life.b10_median),
            _("%(range)s, 9 times in 10") % {"range": between(life.b10_lower, life.b10_upper)},
        ),
        Evidence(
            _("Half have failed by"),
            cycles(found.age_by_which(0.5).middle),
            _("%(range)s, 9 times in 10") % {"range": _range(found.age_by_which(0.5))},
        ),
        Evidence(
            _("Shape"),
            number(life.shape_median, 2),
            _("%(range)s: %(words)s")
            % {
                "range": between(life.shape_lower, life.shape_upper, 2),
                "words": shape_words(life.shape_lower, life.shape_upper),
            },
        ),
        Evidence(
            _("Scale: 63 of 100 have failed by"),
            cycles(life.scale_median),
            _("%(range)s, 9 times in 10") % {"range": between(life.scale_lower, life.scale_upper)},
        ),
    ]


def _survival(found: ComponentEvidence) -> Picture | None:
    curve, longest = found.curve(), found.figures.get("longest_cycles")
    if curve is None or not longest:
        return None
    rows = found.figures["curve"]
    drawn = _(" Line: the Weibull life over it.") if found.is_estimated else ""
    return Picture(
        id="survival",
        finding=_survival_finding(found),
        note=_("%(lives)s Steps: what was seen, with the band that holds it 9 times in 10.%(line)s")
        % {"lives": lives_words(found), "line": drawn},
        figure=survival_chart(curve, found.weibull(), float(longest)),
        headings=[
            _("Age, cycles"),
            _("Lives at risk"),
            _("Failures"),
            _("Of 100 still running"),
            _("Lower"),
            _("Upper"),
        ],
        rows=[
            [
                number(rows["at_cycles"][k]),
                number(rows["at_risk"][k]),
                number(rows["failures"][k]),
                *(number(100 * rows[name][k], 1) for name in ("survival", "lower", "upper")),
            ]
            for k in spread(len(rows["at_cycles"]))
        ],
    )


def _survival_finding(found: ComponentEvidence) -> str:
    if not found.is_estimated:
        return _("%(component)s: what was seen of its lives") % {"component": found.component}
    half = found.age_by_which(0.5)
    return _("%(component)s %(words)s: half have failed by %(half)s cycles (%(range)s)") % {
        "component": found.component,
        "words": shape_words(found.life.shape_lower, found.life.shape_upper),
        "half": about(half.middle),
        "range": _about_range(half.lower, half.upper),
    }


def _plot(found: ComponentEvidence) -> Picture | None:
    curve, life = found.curve(), found.weibull()
    if curve is None or life is None or len(curve.at_cycles) < POINTS_FOR_PLOT:
        return None
    return Picture(
        id="probability-plot",
        finding=_("On these axes a Weibull life is a straight line"),
        note=_("%(fit)s The steeper the line, the more the part wears out.")
        % {"fit": fit_words(found)},
        figure=probability_plot(curve, life),
        headings=[_("Age, cycles"), _("Failed, %")],
        rows=[
            [number(float(curve.at_cycles[k])), number(100 * (1 - float(curve.survival[k])), 1)]
            for k in spread(len(curve.at_cycles))
        ],
    )


def _hazard(found: ComponentEvidence) -> Picture | None:
    bands, life = found.bands(), found.weibull()
    if bands is None or life is None or found.life.failures < FAILURES_FOR_BARS:
        return None
    return Picture(
        id="failure-rate",
        finding=_hazard_finding(bands),
        note=_("Five bands of age in which equally many failures were to be expected. %(fit)s")
        % {"fit": fit_words(found)},
        figure=hazard_chart(bands, life),
        headings=[
            _("Age, cycles"),
            _("Failures"),
            _("Expected"),
            _("Cycles run"),
            _("Failures per 10,000 cycles"),
        ],
        rows=_hazard_rows(found, bands),
    )


def _hazard_finding(bands: AgeBands) -> str:
    first, last = bands.per_10_000[[0, -1]].tolist()
    return _(
        "From %(first)s failures per 10,000 cycles on young parts to %(last)s on the oldest"
    ) % {"first": number(first, 2), "last": number(last, 2)}


def _hazard_rows(found: ComponentEvidence, bands: AgeBands) -> list[list[str]]:
    expected = np.array(found.figures["bands"]["expected"])
    edges = bands.edges_cycles
    return [
        [
            between(float(edges[k]), float(edges[k + 1])),
            number(float(bands.observed[k])),
            number(float(expected[k]), 1),
            number(float(bands.exposure_cycles[k])),
            number(float(bands.per_10_000[k]), 2),
        ]
        for k in range(len(bands.observed))
    ]


def _range(found: Spread) -> str:
    return between(found.lower, found.upper)


def _about_range(lower: float, upper: float) -> str:
    return _("%(low)s to %(high)s") % {"low": about(lower), "high": about(upper)}


def _n_lives(lives: int) -> str:
    return ngettext("%(n)s life", "%(n)s lives", lives) % {"n": number(lives)}
