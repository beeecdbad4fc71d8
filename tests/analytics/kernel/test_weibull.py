import numpy as np
import pytest
from scipy.optimize import approx_fprime, minimize

from analytics.kernel.lifetimes import Lifetimes, NotEstimableError
from analytics.kernel.weibull import (
    fit_weibull,
    life_quantile,
    survival_probability,
)
from analytics.kernel.weibull_likelihood import weibull_curvature
from tests.analytics.kernel.life_samples import renewal_lives, watched_lives


def slow_loglik(lives: Lifetimes, shape: float, scale: float) -> float:
    """The likelihood written out life by life."""
    total = 0.0
    rows = zip(lives.lo_cycles, lives.hi_cycles, lives.entry_cycles, lives.weights, strict=True)
    for lo, hi, entry, weight in rows:

        def hazard(age):
            return (age / scale) ** shape

        one = hazard(entry) - hazard(lo)
        if lo == hi:
            one += np.log(shape / scale * (lo / scale) ** (shape - 1))
        elif np.isfinite(hi):
            one += np.log(1 - np.exp(hazard(lo) - hazard(hi)))
        total += weight * one
    return total


def mixed_lives(seed: int) -> Lifetimes:
    lives = watched_lives(seed, 120, shape=2.2)
    rng = np.random.default_rng(seed)
    read = lives.exact & (rng.random(len(lives.lo_cycles)) < 0.5)
    lo = np.where(read, np.maximum(lives.lo_cycles - 2000, lives.entry_cycles), lives.lo_cycles)
    hi = np.where(read, lives.lo_cycles + 1500, lives.hi_cycles)
    return Lifetimes.from_intervals(lo, hi, lives.entry_cycles)


def test_likelihood_is_that_of_every_life():
    lives = mixed_lives(1)
    for shape, scale in [(0.7, 2e4), (1.9, 5e4), (4.0, 3e4)]:
        assert weibull_curvature(lives, shape, np.log(scale)).loglik == pytest.approx(
            slow_loglik(lives, shape, scale), rel=1e-11
        )


def test_derivatives_are_those_of_the_likelihood():
    lives = mixed_lives(2)
    point = np.array([1.7, np.log(4e4)])

    def value(x):
        return slow_loglik(lives, x[0], np.exp(x[1]))

    def gradient(x):
        return weibull_curvature(lives, x[0], x[1]).gradient

    found = weibull_curvature(lives, *point)
    assert found.gradient == pytest.approx(approx_fprime(point, value, 1e-7), rel=1e-4)
    steps = [1e-6 * np.eye(2)[i] for i in range(2)]
    numeric = [(gradient(point + s) - gradient(point - s)) / 2e-6 for s in steps]
    assert found.hessian == pytest.approx(np.array(numeric), rel=1e-5)


@pytest.mark.parametrize("seed", range(4))
def test_fit_is_the_highest_point_found_by_a_plain_search(seed):
    lives = mixed_lives(seed) if seed % 2 else watched_lives(seed, 90, shape=1.3)

    def loss(logs):
        return -slow_loglik(lives, *np.exp(logs))

    searched = minimize(
        loss, np.log([1.5, 4e4]), method="Nelder-Mead", options={"xatol": 1e-9, "fatol": 1e-10}
    )
    fit = fit_weibull(lives)
    assert [fit.shape, fit.scale_cycles] == pytest.approx(np.exp(searched.x), rel=1e-6)
    assert fit.loglik == pytest.approx(-searched.fun, rel=1e-10)


def test_both_forms_of_the_likelihood_describe_the_same_optimum():
    lives = watched_lives(5, 300, shape=1.6)
    fit = fit_weibull(lives)
    found = weibull_curvature(lives, fit.shape, float(np.log(fit.scale_cycles)))
    assert found.gradient == pytest.approx([0, 0], abs=1e-6)
    assert fit.covariance == pytest.approx(np.linalg.inv(-found.hessian), rel=1e-7)
    assert found.loglik == pytest.approx(fit.loglik, rel=1e-12)


def test_weights_stand_for_equal_lives():
    once = Lifetimes.from_ages([3, 5, 8, 8], [True, True, False, False])
    joined = Lifetimes.from_ages([3, 5, 8], [True, True, False], weights=[1, 1, 2])
    one, other = fit_weibull(once), fit_weibull(joined)
    assert one.shape == pytest.approx(other.shape)
    assert one.shape_se == pytest.approx(other.shape_se)


@pytest.mark.parametrize("shape", [0.8, 1.5, 3.0])
def test_truth_is_recovered_from_sockets_watched_part_way(shape):
    """Sockets in use before their record: delayed entry, renewals and suspension at once."""
    found = [fit_weibull(renewal_lives(seed, 200, shape)) for seed in range(20)]
    shapes = np.array([fit.shape for fit in found])
    scales = np.array([fit.scale_cycles for fit in found])
    assert shapes.mean() == pytest.approx(shape, rel=0.04)
    assert scales.mean() == pytest.approx(40_000, rel=0.05)
    covered = [fit.shape_lower < shape < fit.shape_upper for fit in found]
    assert 0.7 <= np.mean(covered) <= 1.0


def test_leaving_the_entry_age_out_bends_the_scale():
    """The error that delayed entry is there to prevent."""
    lives = renewal_lives(3, 1500, 1.5)
    careless = Lifetimes.from_ages(lives.lo_cycles, lives.exact)
    assert fit_weibull(lives).scale_cycles == pytest.approx(40_000, rel=0.05)
    assert fit_weibull(careless).scale_cycles > 44_000


@pytest.mark.parametrize(
    ("ages", "failed", "message"),
    [
        ([5, 6], [False, False], "No failure is recorded, so a life cannot be fitted."),
        ([5, 6, 9], [True, False, False], "Only one failure is recorded: a shape needs at least"),
        ([7, 7, 3], [True, True, False], "All failures lie at one age \\(7 cycles\\)"),
    ],
)
def test_lives_that_carry_no_shape_say_so(ages, failed, message):
    with pytest.raises(NotEstimableError, match=message):
        fit_weibull(Lifetimes.from_ages(ages, failed))


def test_shape_at_its_upper_limit_says_so():
    ages = np.array([1000.0, 1000.001, 1000.002])
    with pytest.raises(NotEstimableError, match="still rises at shape 100"):
        fit_weibull(Lifetimes.from_ages(ages, [True] * 3))


def test_shape_at_its_lower_limit_says_so():
    ages = np.array([1e-30, 1.0, 1e30, 1e60])
    with pytest.raises(NotEstimableError, match=r"still rises at shape 0\.05"):
        fit_weibull(Lifetimes.from_ages(ages, [True] * 4))


@pytest.mark.parametrize(
    ("lo", "hi", "entry", "message"),
    [
        # Found by trying thousands of small random samples.
        ([0, 35_090, 0], [38_682, np.inf, 25_785], [0, 0, 0], "has no peak"),
        ([31_198, 42_477], [31_198, 42_477], [30_886, 42_052], "all but flat"),
        ([0, 0, 0], [5_000, 20_000, 35_000], [0, 0, 0], "readings lie too far apart"),
    ],
)
def test_samples_without_a_usable_peak_say_so(lo, hi, entry, message):
    with pytest.raises(NotEstimableError, match=message):
        fit_weibull(Lifetimes.from_intervals(lo, hi, entry))


@pytest.mark.filterwarnings("error")
def test_small_random_samples_give_figures_or_a_reason():
    """No sample, however odd, may end in an infinite figure, a warning or another error."""
    rng = np.random.default_rng(17)
    fitted = 0
    for _ in range(400):
        count = rng.integers(1, 9)
        life = 3e4 * rng.weibull(rng.choice([0.3, 0.8, 1.5, 4, 12]), count) + 1
        end = rng.uniform(1, 9e4, count)
        age, failed = np.minimum(life, end), life <= end
        read = failed & (rng.random(count) < 0.4)
        lo = np.where(read, np.maximum(age - rng.choice([1, 3e3, 9e4]), 0), age)
        entry = np.where(rng.random(count) < 0.5, lo * rng.choice([0, 0.5, 1.0], count), 0)
        lives = Lifetimes.from_intervals(lo, np.where(failed, age, np.inf), entry)
        try:
            fit = fit_weibull(lives)
        except NotEstimableError:
            continue
        fitted += 1
        figures = [value for value in vars(fit).values() if isinstance(value, float)]
        assert np.isfinite(figures).all()
    assert fitted > 200


def test_lives_never_at_risk_change_nothing():
    lives = Lifetimes.from_ages([5, 6, 9], [True, True, False])
    more = Lifetimes.from_ages([5, 6, 9, 50, 4], [True, True, False, True, False], [0, 0, 0, 50, 4])
    one, other = fit_weibull(lives), fit_weibull(more)
    assert (one.shape, one.failures, one.lives) == (other.shape, other.failures, other.lives)


def test_lives_without_exposure_say_so():
    lives = Lifetimes.from_ages([5, 6], [True, True], [5, 6])
    with pytest.raises(NotEstimableError, match="No cycles were run under observation"):
        fit_weibull(lives)


def test_confidence_outside_its_range_is_refused():
    lives = Lifetimes.from_ages([5, 6], [True, True])
    with pytest.raises(ValueError, match="confidence must lie between 0 and 1, got 0"):
        fit_weibull(lives, 0)


def test_figures_of_a_life_agree_with_each_other():
    assert survival_probability(life_quantile(0.1, 1.7, 3e4), 1.7, 3e4) == pytest.approx(0.9)
    with pytest.raises(ValueError, match="shape must be above 0, got -1"):
        survival_probability(1.0, -1.0, 3e4)
    with pytest.raises(ValueError, match="scale_cycles must be above 0, got 0"):
        survival_probability(1.0, 1.0, 0.0)
