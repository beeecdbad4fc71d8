"""What a component's page shows of its life: curve, age bands, likely lives, and part by part."""

from __future__ import annotations

from typing import Any

import numpy as np

from analytics.assessment.lives import ComponentLifeFound, LifeRows
from analytics.datasets.columns import Flags, Floats, Ints
from analytics.datasets.fitments import FitmentRows
from analytics.kernel.against_age import compare_with_age
from analytics.kernel.goodness_of_fit import check_fit
from analytics.kernel.lifetimes import Lifetimes, NotEstimableError
from analytics.kernel.posterior import WeibullPosterior, weibull_posterior
from analytics.kernel.survival import product_limit

CURVE_POINTS = 150
ADVICE_DRAWS = 200
FORECAST_DRAWS = 24
# One part among many is told apart only when this many lives of it were seen.
FEWEST_LIVES_OF_A_PART = 2
MOST_PARTS = 12

Figures = dict[str, Any]


def life_evidence(life: ComponentLifeFound, rows: LifeRows, fitments: FitmentRows) -> Figures:
    """Everything a page needs of one component, as plain numbers."""
    of_component = fitments.component_id == life.component_id
    ages = life.lives.lo_cycles
    return {
        "left_out": int((of_component & np.isnan(fitments.fitted_at_cycles)).sum()),
        "fitted_now": int((of_component & (fitments.end == 0)).sum()),
        "longest_cycles": float(ages.max()) if len(ages) else None,
        "between_readings": int(life.lives.between.sum()),
        "curve": _curve(life.lives),
        "bands": _bands(life),
        "draws": _draws(life.posterior, ADVICE_DRAWS),
        "forecast_draws": _draws(life.posterior, FORECAST_DRAWS),
        "parts": _by_part(life, rows, fitments),
    }


def _curve(lives: Lifetimes) -> Figures | None:
    """The product-limit curve, at most so many points of it."""
    try:
        curve = product_limit(lives)
    except NotEstimableError:
        return None
    kept = _spread(len(curve.at_cycles), CURVE_POINTS)
    return {
        **{name: getattr(curve, name)[kept].tolist() for name in _CURVE_COLUMNS},
        "points": len(curve.at_cycles),
        "median_cycles": curve.median_cycles,
        "confidence": curve.confidence,
    }


_CURVE_COLUMNS = ("at_cycles", "at_risk", "failures", "survival", "lower", "upper")


def _spread(length: int, most: int) -> Ints:
    """Indices spread evenly over a length, both ends kept."""
    return np.unique(np.linspace(0, length - 1, min(length, most)).round().astype(np.int64))


def _bands(life: ComponentLifeFound) -> Figures | None:
    """Failures against cycles run, by age; about the fitted curve, or the likely one."""
    if life.posterior is None or life.lives.failures == 0:
        return None
    summary = life.posterior.summary()
    shape = life.fit.shape if life.fit else summary.shape_median
    scale = life.fit.scale_cycles if life.fit else summary.scale_median_cycles
    check = check_fit(life.lives, shape, scale)
    return {
        "edges_cycles": check.edges_cycles.tolist(),
        "observed": check.observed.tolist(),
        "expected": check.expected.tolist(),
        "exposure_cycles": check.exposure_cycles.tolist(),
        "reason": check.reason,
    }


def _draws(posterior: WeibullPosterior | None, count: int) -> Figures | None:
    if posterior is None:
        return None
    draws = posterior.draws(count)
    return {"shape": draws.shape.tolist(), "scale_cycles": draws.scale_cycles.tolist()}


def _by_part(life: ComponentLifeFound, rows: LifeRows, fitments: FitmentRows) -> list[Figures]:
    """The life of each part number, where several were fitted; the most used ones."""
    chosen = np.flatnonzero(rows.component_id == life.component_id)
    part_id = fitments.part_id[rows.part[chosen]]
    known, counts = np.unique(part_id[part_id >= 0], return_counts=True)
    if len(known) < 2:
        return []
    often = known[np.argsort(-counts, kind="stable")][:MOST_PARTS]
    return [_one_part(life, part, part_id == part) for part in often.tolist()]


def _one_part(life: ComponentLifeFound, part: int, chosen: Flags) -> Figures:
    lives = _among(life.lives, chosen)
    found: Figures = {
        "part": part,
        "lives": int(lives.lives),
        "failures": int(lives.failures),
        "suspended": int(lives.suspensions),
        **_against_others(life, lives, _among(life.lives, ~chosen)),
    }
    if life.posterior is None or lives.lives < FEWEST_LIVES_OF_A_PART:
        return found
    try:
        posterior = weibull_posterior(lives, life.posterior.prior)
    except NotEstimableError:
        return found
    return found | _likely(posterior)


def _among(lives: Lifetimes, chosen: Flags) -> Lifetimes:
    return Lifetimes(
        lives.lo_cycles[chosen],
        lives.hi_cycles[chosen],
        lives.entry_cycles[chosen],
        lives.weights[chosen],
    )


def _against_others(life: ComponentLifeFound, lives: Lifetimes, others: Lifetimes) -> Figures:
    """How often one part fails against its like at the same ages; nothing if these never did."""
    if life.posterior is None or not others.failures or not lives.exposure_cycles:
        return {}
    try:
        of_others = weibull_posterior(others.merged(), life.posterior.prior)
    except NotEstimableError:
        return {}
    found = compare_with_age(lives, of_others.draws(FORECAST_DRAWS))
    return {
        "expected_by_others": found.expected,
        "times_others": found.factor,
        "times_others_lower": found.lower,
        "times_others_upper": found.upper,
        "fails_more_often": found.alert,
    }


def _likely(posterior: WeibullPosterior) -> Figures:
    half: Floats = posterior.scale_cycles * np.log(2.0) ** (1 / posterior.shape[:, None])
    lower, middle, upper = posterior.interval(half, [0.05, 0.5, 0.95]).tolist()
    summary = posterior.summary()
    return {
        "median_cycles": middle,
        "median_lower": lower,
        "median_upper": upper,
        "b10_cycles": summary.b10_median_cycles,
        "b10_lower": summary.b10_lower_cycles,
        "b10_upper": summary.b10_upper_cycles,
        "shape": summary.shape_median,
        "evidence": posterior.evidence,
    }
