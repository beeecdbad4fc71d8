"""Other programs' answers to the same questions, where they are installed; never needed to run."""

from __future__ import annotations

from collections.abc import Callable
from importlib import import_module
from importlib.util import find_spec
from time import perf_counter
from types import ModuleType

import numpy as np
from scipy.stats import CensoredData, weibull_min

from analytics.kernel.demand_history import croston
from analytics.kernel.intervals import best_replacement_age
from analytics.kernel.lifetimes import Lifetimes
from analytics.kernel.survival import product_limit
from analytics.kernel.weibull import fit_weibull
from analytics.proof.claim import Claim, Effort, Floats

GROUP = "libraries"
NEEDED = ("lifelines", "surpyval", "reliability", "statsforecast")
LIVES, SCALE, SHAPE = 10_000, 45_000.0, 1.4
MEASURED_TIMES = 3


def missing() -> list[str]:
    """Which of them are not installed: they belong to the tests, not to the program."""
    return [name for name in NEEDED if find_spec(name) is None]


def claims(_effort: Effort) -> list[Claim]:
    """Agreement, and how much faster; nothing where a library is missing."""
    if missing():
        return []
    lives = _lives()
    return [*_with_lifelines(lives), *_with_surpyval(lives), *_with_others()]


def _lives() -> Lifetimes:
    rng = np.random.default_rng(1)
    life, end = SCALE * rng.weibull(SHAPE, LIVES), rng.uniform(0, 60_000, LIVES)
    age = np.minimum(life, end)
    entry = np.where(rng.random(LIVES) < 0.3, age * rng.random(LIVES), 0.0)
    return Lifetimes.from_ages(age, life <= end, entry)


def _with_lifelines(lives: Lifetimes) -> list[Claim]:
    lifelines = import_module("lifelines")
    fit, curve = fit_weibull(lives), product_limit(lives)
    weibull, meier = lifelines.WeibullFitter(), lifelines.KaplanMeierFitter()
    given = (lives.lo_cycles, lives.exact)
    theirs = _seconds(lambda: weibull.fit(*given, entry=lives.entry_cycles))
    own = _seconds(lambda: fit_weibull(_again(lives)))
    meier.fit(*given, entry=lives.entry_cycles)
    other = meier.survival_function_at_times(curve.at_cycles).to_numpy()
    apart = float(np.abs(other - curve.survival).max())
    shape, scale = _off(fit.shape, weibull.rho_), _off(fit.scale_cycles, weibull.lambda_)
    return [
        Claim(GROUP, "lifelines: Weibull shape, relative", shape, highest=1e-5),
        Claim(GROUP, "lifelines: Weibull scale, relative", scale, highest=1e-5),
        Claim(GROUP, "lifelines: Kaplan-Meier, most off", apart, highest=1e-9),
        Claim(GROUP, "lifelines: its seconds over ours", theirs / own, lowest=20.0),
    ]


def _with_surpyval(lives: Lifetimes) -> list[Claim]:
    surpyval = import_module("surpyval")
    fit = fit_weibull(lives)
    held: list[object] = []
    given = {"x": lives.lo_cycles, "c": (~lives.exact).astype(int), "tl": lives.entry_cycles}
    theirs = _seconds(lambda: held.append(surpyval.Weibull.fit(**given)))
    own = _seconds(lambda: fit_weibull(_again(lives)))
    scale, shape = held[-1].params  # type: ignore[attr-defined]
    return [
        Claim(GROUP, "surpyval: shape, relative", _off(fit.shape, shape), highest=1e-4),
        Claim(
            GROUP, "surpyval: Weibull scale, relative", _off(fit.scale_cycles, scale), highest=1e-4
        ),
        Claim(GROUP, "surpyval: its seconds over ours", theirs / own, lowest=5.0),
    ]


def _with_others() -> list[Claim]:
    return [
        Claim(GROUP, "scipy: Weibull shape of suspended lives, relative", _scipy(), highest=1e-4),
        Claim(GROUP, "reliability: best age of replacement, relative", _best_age(), highest=5e-4),
        Claim(GROUP, "statsforecast: Croston's forecast, relative", _croston(), highest=1e-6),
    ]


def _scipy() -> float:
    rng = np.random.default_rng(4)
    life, end = rng.weibull(SHAPE, 300), rng.uniform(0.3, 1.5, 300)
    age = np.minimum(life, end)
    shape, _, _ = weibull_min.fit(CensoredData.right_censored(age, life > end), floc=0)
    fit = fit_weibull(Lifetimes.from_ages(age * SCALE, life <= end))
    return _off(fit.shape, float(shape))


def _best_age() -> float:
    repairable = import_module("reliability.Repairable_systems")
    other = repairable.optimal_replacement_time(
        cost_PM=1, cost_CM=5, weibull_alpha=1000, weibull_beta=2.5, q=0,
        show_time_plot=False, show_ratio_plot=False, print_results=False,
    )  # fmt: skip
    return _off(best_replacement_age(2.5, 1000.0, 1.0, 5.0).best_cycles or np.nan, other.ORT)


def _croston() -> float:
    models: ModuleType = import_module("statsforecast.models")
    demand: Floats = np.random.default_rng(3).poisson(0.6, 200).astype(float)
    other = models.CrostonClassic().forecast(y=demand, h=1)["mean"][0]
    return _off(float(croston(demand, 0.1, 0.1)[-1]), float(other))


def _again(lives: Lifetimes) -> Lifetimes:
    """The same lives without anything kept from an earlier fit."""
    return Lifetimes(lives.lo_cycles, lives.hi_cycles, lives.entry_cycles, lives.weights)


def _seconds(work: Callable[[], object]) -> float:
    taken = []
    for _ in range(MEASURED_TIMES):
        started = perf_counter()
        work()
        taken.append(perf_counter() - started)
    return min(taken)


def _off(own: float, other: float) -> float:
    return abs(own / other - 1)
