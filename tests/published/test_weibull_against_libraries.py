"""Weibull fits and curves against lifelines, surpyval and scipy on seeded data."""

import numpy as np
import pytest
import surpyval
from lifelines import KaplanMeierFitter, WeibullFitter
from scipy import optimize, stats

from analytics.kernel.lifetimes import Lifetimes
from analytics.kernel.survival import product_limit
from analytics.kernel.weibull import fit_weibull


def seeded_lives(seed: int, count: int = 400, shape: float = 1.8) -> Lifetimes:
    """Lives in units of 10,000 cycles, about a third entering late."""
    rng = np.random.default_rng(seed)
    life = 4.5 * rng.weibull(shape, count)
    end = rng.uniform(0.5, 7.0, count)
    entry = np.where(rng.random(count) < 0.35, rng.uniform(0, 3.0, count), 0.0)
    age = np.minimum(life, end)
    seen = age > entry
    return Lifetimes.from_ages(age[seen], (life <= end)[seen], entry[seen])


def tight_lifelines(lives: Lifetimes) -> WeibullFitter:
    fitter = WeibullFitter()
    fitter._scipy_fit_options = {"ftol": 1e-15, "gtol": 1e-12, "maxiter": 2000}
    entry = lives.entry_cycles if lives.entry_cycles.any() else None
    return fitter.fit(lives.lo_cycles, ~lives.suspended, entry=entry)


@pytest.mark.parametrize(("seed", "shape"), [(1, 1.8), (2, 0.8), (3, 3.2)])
def test_delayed_entry_and_censoring_against_lifelines(seed, shape):
    lives = seeded_lives(seed, shape=shape)
    fit, other = fit_weibull(lives), tight_lifelines(lives)
    assert fit.shape == pytest.approx(other.rho_, rel=1e-6)
    assert fit.scale_cycles == pytest.approx(other.lambda_, rel=1e-6)
    assert fit.loglik == pytest.approx(other.log_likelihood_, rel=1e-9)
    errors = other.summary["se(coef)"]
    assert fit.shape_se == pytest.approx(errors["rho_"], rel=1e-4)
    assert fit.scale_se_cycles == pytest.approx(errors["lambda_"], rel=1e-4)


@pytest.mark.parametrize("seed", [4, 5])
def test_delayed_entry_and_censoring_against_surpyval(seed):
    lives = seeded_lives(seed)
    other = surpyval.Weibull.fit(
        x=lives.lo_cycles, c=lives.suspended.astype(int), tl=lives.entry_cycles
    )
    scale, shape = other.params
    fit = fit_weibull(lives)
    # No better point was found there.
    assert fit.loglik >= -other.neg_ll() - 1e-9
    assert fit.shape == pytest.approx(shape, rel=1e-6)
    assert fit.scale_cycles == pytest.approx(scale, rel=1e-6)


def test_censoring_against_scipy():
    lives = seeded_lives(6)
    data = stats.CensoredData(
        uncensored=lives.lo_cycles[lives.exact], right=lives.lo_cycles[lives.suspended]
    )
    plain = Lifetimes.from_ages(lives.lo_cycles, lives.exact)

    def patient(function, start, args=(), disp=0):
        found = optimize.minimize(
            function,
            start,
            args=args,
            method="Nelder-Mead",
            options={"xatol": 1e-10, "fatol": 1e-12, "maxiter": 4000},
        )
        return found.x

    shape, _, scale = stats.weibull_min.fit(data, floc=0, optimizer=patient)
    fit = fit_weibull(plain)
    assert fit.shape == pytest.approx(shape, rel=1e-6)
    assert fit.scale_cycles == pytest.approx(scale, rel=1e-6)


def test_failures_between_readings_against_scipy():
    lives = seeded_lives(7)
    lo = np.floor(lives.lo_cycles / 0.4) * 0.4
    failed = lives.exact
    plain = Lifetimes.from_intervals(
        np.where(failed, lo, lives.lo_cycles), np.where(failed, lo + 0.4, np.inf)
    )
    data = stats.CensoredData(
        interval=np.stack([lo[failed], lo[failed] + 0.4], axis=1),
        right=lives.lo_cycles[~failed],
    )
    shape, _, scale = stats.weibull_min.fit(data, floc=0)
    fit = fit_weibull(plain)
    assert fit.shape == pytest.approx(shape, rel=1e-4)
    assert fit.scale_cycles == pytest.approx(scale, rel=1e-4)

    def loss(logs):
        survives = stats.weibull_min(np.exp(logs[0]), scale=np.exp(logs[1])).sf
        inside = survives(lo[failed]) - survives(lo[failed] + 0.4)
        return -np.log(inside).sum() - np.log(survives(lives.lo_cycles[~failed])).sum()

    best = optimize.minimize(
        loss,
        np.log([shape, scale]),
        method="Nelder-Mead",
        options={"xatol": 1e-10, "fatol": 1e-12},
    )
    assert [fit.shape, fit.scale_cycles] == pytest.approx(np.exp(best.x), rel=1e-6)
    assert fit.loglik == pytest.approx(-best.fun, rel=1e-10)


def test_product_limit_against_lifelines():
    lives = seeded_lives(8)
    curve = product_limit(lives)
    other = KaplanMeierFitter().fit(
        lives.lo_cycles, ~lives.suspended, entry=lives.entry_cycles, alpha=0.1
    )
    expected = other.survival_function_at_times(curve.at_cycles).to_numpy()
    assert curve.survival == pytest.approx(expected, rel=1e-9)
