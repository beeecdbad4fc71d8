import numpy as np
import pytest

from analytics.kernel.goodness_of_fit import check_fit
from analytics.kernel.lifetimes import Lifetimes
from analytics.kernel.weibull import fit_weibull
from tests.analytics.kernel.life_samples import watched_lives


def test_bands_are_those_of_a_plain_count():
    lives = watched_lives(3, 150)
    fit = fit_weibull(lives)
    found = check_fit(lives, fit.shape, fit.scale_cycles)
    for band in range(5):
        low, high = found.edges_cycles[band : band + 2]
        expected = exposure = 0.0
        for age, entry in zip(lives.lo_cycles, lives.entry_cycles, strict=True):
            inside = min(max(age, low), high), min(max(entry, low), high)
            hazard = [(value / fit.scale_cycles) ** fit.shape for value in inside]
            expected += hazard[0] - hazard[1]
            exposure += inside[0] - inside[1]
        failed = lives.lo_cycles[lives.exact]
        assert found.observed[band] == ((failed > low) & (failed <= high)).sum()
        assert found.expected[band] == pytest.approx(expected)
        assert found.exposure_cycles[band] == pytest.approx(exposure)
    # At the maximum of the likelihood as many failures are expected as were seen.
    assert found.expected.sum() == pytest.approx(lives.failures)


def test_true_weibull_lives_are_rarely_refused():
    low = []
    for seed in range(200):
        lives = watched_lives(seed, 150)
        fit = fit_weibull(lives)
        low.append(check_fit(lives, fit.shape, fit.scale_cycles).p < 0.05)
    assert 0.01 <= np.mean(low) <= 0.1


def test_early_failures_among_wear_are_found():
    found = []
    for seed in range(60):
        rng = np.random.default_rng(seed)
        life = 40_000 * rng.weibull(3.5, 300)
        early = rng.random(300) < 0.15
        life[early] = 2_000 * rng.weibull(0.8, early.sum())
        end = rng.uniform(5_000, 50_000, 300)
        lives = Lifetimes.from_ages(np.minimum(life, end), life <= end)
        fit = fit_weibull(lives)
        found.append(check_fit(lives, fit.shape, fit.scale_cycles).p < 0.05)
    assert np.mean(found) > 0.9


def test_few_failures_are_not_judged():
    found = check_fit(watched_lives(1, 8), 1.5, 4e4)
    assert (found.chi2, found.p) == (None, None)
    assert "needs at least 10 failures" in found.reason


def test_lives_without_exposure_are_not_judged():
    ages = np.arange(1.0, 13.0)
    found = check_fit(Lifetimes.from_ages(ages, [True] * 12, ages), 1.5, 4e4)
    assert found.p is None
    assert found.reason == "No cycles were run, so nothing was expected to fail."


def test_wrong_life_is_refused():
    with pytest.raises(ValueError, match="shape and scale must be above 0, got 0"):
        check_fit(watched_lives(1, 8), 0.0, 1.0)
