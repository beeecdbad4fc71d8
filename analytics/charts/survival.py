"""How long a component lasts: the curve, the probability plot and the failure rate by age."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from django.utils.translation import gettext as _

from analytics.charts import picture
from analytics.charts.picture import Figure
from analytics.kernel.weibull import survival_probability

POINTS = 80
_PERCENTS = (1, 2, 5, 10, 20, 50, 80, 90, 99)


@dataclass(frozen=True)
class Curve:
    """Share that outlives each age, with its limits; ages in cycles, (k,)."""

    at_cycles: np.ndarray
    survival: np.ndarray
    lower: np.ndarray
    upper: np.ndarray


@dataclass(frozen=True)
class Weibull:
    """The life that is drawn over what was seen."""

    shape: float
    scale_cycles: float


def survival_chart(curve: Curve, life: Weibull | None, longest_cycles: float) -> Figure:
    """Of 100, how many still run: steps as seen with their band, the Weibull life over them."""
    at = np.concatenate(([0.0], curve.at_cycles, [longest_cycles]))
    seen, low, high = (
        100 * np.concatenate(([1.0], each, each[-1:]))
        for each in (curve.survival, curve.lower, curve.upper)
    )
    hover = _("%{y:.0f} of 100 still run at %{x:,.0f} cycles") + "<extra></extra>"
    traces = [
        *picture.band(at, low, high, shape="hv"),
        picture.steps(at, seen, colour=picture.INK, name=_("seen"), hover=hover),
    ]
    words = []
    if life is not None:
        ages = np.linspace(0.0, longest_cycles, POINTS)
        model = 100 * survival_probability(ages, life.shape, life.scale_cycles)
        middle = POINTS // 2
        traces.append(picture.line(ages, model, colour=picture.ACCENT, name="Weibull", hover=hover))
        words.append(
            picture.label(
                float(ages[middle]), float(model[middle]), "Weibull", colour=picture.ACCENT
            )
        )
    return picture.figure(
        traces,
        xaxis=picture.from_zero(_("Age (door cycles)")),
        yaxis={"title": _("Still running (of 100)"), "range": [0, 102]},
        annotations=words,
    )


def probability_plot(curve: Curve, life: Weibull) -> Figure:
    """Failed by each age on axes on which a Weibull life is a straight line."""
    # The middle of each step stands for it; a share of all or none has no place on this axis.
    before = np.concatenate(([1.0], curve.survival[:-1]))
    failed = 1 - (before + curve.survival) / 2
    kept = (failed > 0) & (failed < 1) & (curve.at_cycles > 0)
    ages = np.geomspace(curve.at_cycles[kept].min(), curve.at_cycles[kept].max(), POINTS)
    model = 1 - survival_probability(ages, life.shape, life.scale_cycles)
    marks = [
        share for share in _PERCENTS if share / 100 >= 0.5 * min(failed[kept].min(), model.min())
    ]
    points = picture.line(
        curve.at_cycles[kept],
        _weibull_scale(failed[kept]),
        colour=picture.INK,
        name=_("seen"),
        hover=_("%{x:,.0f} cycles") + "<extra></extra>",
    )
    points |= {"mode": "markers", "marker": {"size": 6, "color": picture.INK}}
    return picture.figure(
        [
            points,
            picture.line(
                ages,
                _weibull_scale(model),
                colour=picture.ACCENT,
                name="Weibull",
                hover=_("%{x:,.0f} cycles") + "<extra>Weibull</extra>",
            ),
        ],
        xaxis={"title": _("Age (door cycles)"), "type": "log", "nticks": 6},
        yaxis={
            "title": _("Failed (%)"),
            "tickvals": picture.plain(_weibull_scale(np.array(marks) / 100)),
            "ticktext": [str(share) for share in marks],
        },
    )


def _weibull_scale(failed: np.ndarray) -> np.ndarray:
    share = np.clip(failed, 1e-6, 1 - 1e-6)
    return np.log(-np.log1p(-share))


@dataclass(frozen=True)
class AgeBands:
    """Failures and cycles run by age band: edges (b+1,), failures and cycles (b,)."""

    edges_cycles: np.ndarray
    observed: np.ndarray
    exposure_cycles: np.ndarray

    @property
    def per_10_000(self) -> np.ndarray:
        """Failures per 10,000 cycles run in each band."""
        ran = np.where(self.exposure_cycles > 0, self.exposure_cycles, np.nan)
        return 10_000 * self.observed / ran


def hazard_chart(bands: AgeBands, life: Weibull) -> Figure:
    """Observed failures per 10,000 cycles by age, the Weibull rate over them."""
    edges = bands.edges_cycles
    middles, widths = (edges[:-1] + edges[1:]) / 2, np.diff(edges)
    ages = np.linspace(edges[-1] / POINTS, edges[-1], POINTS)
    rate = life.shape / life.scale_cycles * (ages / life.scale_cycles) ** (life.shape - 1)
    drawn = picture.bars(
        middles,
        bands.per_10_000,
        colour=picture.LIGHT,
        hover=_("%{y:.2f} per 10,000 cycles") + "<extra></extra>",
    )
    drawn |= {"width": picture.plain(widths * 0.96)}
    highest = float(np.nanmax(np.append(bands.per_10_000, 1e-9)))
    return picture.figure(
        [
            drawn,
            picture.line(
                ages,
                np.where(10_000 * rate <= 1.5 * highest, 10_000 * rate, np.nan),
                colour=picture.ACCENT,
                name="Weibull",
                hover=_("%{y:.2f} per 10,000 cycles") + "<extra>Weibull</extra>",
            ),
        ],
        xaxis=picture.from_zero(_("Age (door cycles)")),
        yaxis=picture.from_zero(_("Failures per 10,000 cycles")),
    )
