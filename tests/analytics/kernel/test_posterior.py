import numpy as np
import pytest

from analytics.kernel.lifetimes import Lifetimes, NotEstimableError
from analytics.kernel.posterior import FAMILY_PRIORS, FamilyPrior, weibull_posterior
from analytics.kernel.weibull import fit_weibull, life_quantile
from analytics.kernel.weibull_likelihood import weibull_curvature
from tests.analytics.kernel.life_samples import watched_lives


def slow_quantiles(lives: Lifetimes, prior: FamilyPrior) -> np.ndarray:
    """Medians and ends of shape, scale and B10 on a plain wide rectangle, point by point."""
    log_shape = np.linspace(np.log(0.4), np.log(7), 90)
    log_scale = np.linspace(np.log(3e3), np.log(3e7), 350)
    weights = np.empty((90, 350))
    for i, shape in enumerate(np.exp(log_shape)):
        for j, scale in enumerate(np.exp(log_scale)):
            weights[i, j] = weibull_curvature(lives, shape, np.log(scale)).loglik
    weights -= ((log_shape - np.log(prior.shape_median)) ** 2)[:, None] / (
        2 * prior.shape_log_sd**2
    )
    weights = np.exp(weights - weights.max())
    shape = np.exp(log_shape)[:, None] * np.ones(350)
    scale = np.exp(log_scale) * np.ones((90, 1))
    found = []
    for values in (shape, scale, life_quantile(0.1, shape, scale)):
        order = np.argsort(values, axis=None)
        sorted_weights = weights.ravel()[order] / weights.sum()
        reached = np.cumsum(sorted_weights) - sorted_weights / 2
        found += np.interp([0.05, 0.5, 0.95], reached, values.ravel()[order]).tolist()
    return np.array(found)


def quantiles(lives: Lifetimes, prior: FamilyPrior) -> list[float]:
    s = weibull_posterior(lives, prior).summary()
    return [
        s.shape_lower,
        s.shape_median,
        s.shape_upper,
        s.scale_lower_cycles,
        s.scale_median_cycles,
        s.scale_upper_cycles,
        s.b10_lower_cycles,
        s.b10_median_cycles,
        s.b10_upper_cycles,
    ]


@pytest.mark.parametrize("count", [12, 60])
def test_grid_agrees_with_a_plain_rectangle(count):
    lives = watched_lives(4, count, shape=2.0)
    prior = FamilyPrior(2.0, 0.3)
    assert quantiles(lives, prior) == pytest.approx(slow_quantiles(lives, prior), rel=0.02)


def test_grid_agrees_with_a_plain_rectangle_for_readings_far_apart():
    lives = watched_lives(6, 14, shape=2.0)
    failed = lives.exact
    wide = Lifetimes.from_intervals(
        np.where(failed, np.maximum(lives.lo_cycles - 9000, lives.entry_cycles), lives.lo_cycles),
        np.where(failed, lives.lo_cycles + 9000, np.inf),
        lives.entry_cycles,
    )
    prior = FamilyPrior(2.0, 0.3)
    assert quantiles(wide, prior) == pytest.approx(slow_quantiles(wide, prior), rel=0.02)


def test_many_lives_leave_the_prior_behind():
    lives = watched_lives(8, 4000, shape=2.0)
    fit = fit_weibull(lives)
    found = weibull_posterior(lives).summary()
    assert found.shape_median == pytest.approx(fit.shape, rel=2e-3)
    assert found.shape_lower == pytest.approx(fit.shape_lower, rel=5e-3)
    assert found.b10_upper_cycles == pytest.approx(fit.b10_upper_cycles, rel=5e-3)
    assert found.shape_above_one == pytest.approx(1.0)


def test_equal_lives_give_a_range_where_likelihood_alone_gives_none():
    found = weibull_posterior(Lifetimes.from_ages([9000.0] * 4, [True] * 4)).summary()
    assert 1.5 < found.shape_median < found.shape_upper < 20
    assert found.scale_median_cycles == pytest.approx(9500, rel=0.15)


@pytest.mark.parametrize(
    ("failures", "word"), [(0, "mostly prior"), (2, "mostly prior"), (3, "data")]
)
def test_evidence_needs_three_failures(failures, word):
    ages = [8e3, 15e3, 21e3, 30e3, 40e3]
    lives = Lifetimes.from_ages(ages, [index < failures for index in range(5)])
    found = weibull_posterior(lives)
    assert found.evidence == word
    assert found.probability.sum() == pytest.approx(1)
    assert np.isfinite(list(vars(found.summary()).values())).all()


def test_no_failure_bounds_the_scale_from_below():
    """Ten parts that ran 30,000 each without failing cannot have a B10 of a few hundred."""
    few = weibull_posterior(Lifetimes.from_ages([3e4] * 10, [False] * 10)).summary()
    many = weibull_posterior(Lifetimes.from_ages([3e4] * 1000, [False] * 1000)).summary()
    assert few.b10_lower_cycles > 8_000
    assert many.b10_lower_cycles > 3 * few.b10_lower_cycles
    assert few.shape_median == pytest.approx(1.3, rel=0.15)


@pytest.mark.parametrize("shape", [1.0, 2.0])
def test_ranges_hold_the_truth_as_often_as_they_say(shape):
    """Goal: between 83 and 96 % of nominal 90 % ranges, at five failures and more."""
    rng = np.random.default_rng(31)
    inside_shape, inside_b10 = [], []
    truth = float(life_quantile(0.1, shape, 40_000))
    for _ in range(300):
        life = 40_000 * rng.weibull(shape, 20)
        end = rng.uniform(5_000, 70_000, 20)
        lives = Lifetimes.from_ages(np.minimum(life, end), life <= end)
        if lives.failures < 5:
            continue
        found = weibull_posterior(lives).summary()
        inside_shape.append(found.shape_lower < shape < found.shape_upper)
        inside_b10.append(found.b10_lower_cycles < truth < found.b10_upper_cycles)
    assert len(inside_shape) > 250
    assert 0.83 <= np.mean(inside_shape) <= 0.98
    assert 0.83 <= np.mean(inside_b10) <= 0.97


def test_family_prior_draws_few_failures_to_itself():
    lives = watched_lives(2, 8, shape=3.0)
    spring = weibull_posterior(lives, FAMILY_PRIORS["spring"]).summary()
    board = weibull_posterior(lives, FAMILY_PRIORS["electronics"]).summary()
    assert spring.shape_median > board.shape_median


def test_prior_of_the_scale_holds_where_lives_say_nothing():
    lives = Lifetimes.from_ages([100.0], [False])
    prior = FamilyPrior(2.0, 0.3, 60_000.0, 0.4)
    found = weibull_posterior(watched_lives(2, 4), prior).summary()
    free = weibull_posterior(watched_lives(2, 4), FamilyPrior(2.0, 0.3)).summary()
    span = np.log(found.scale_upper_cycles / found.scale_lower_cycles)
    assert span < np.log(free.scale_upper_cycles / free.scale_lower_cycles)
    alone = weibull_posterior(lives, prior).summary()
    assert alone.scale_median_cycles == pytest.approx(60_000, rel=0.05)


def test_draws_are_even_and_the_same_every_time():
    posterior = weibull_posterior(watched_lives(9, 80))
    draws = posterior.draws(24)
    again = posterior.draws(24)
    assert (draws.shape == again.shape).all()
    assert (draws.scale_cycles == again.scale_cycles).all()
    by_shape = posterior.probability.sum(axis=1)
    assert draws.shape.mean() == pytest.approx(by_shape @ posterior.shape, rel=0.01)
    mean_scale = float((posterior.probability * posterior.scale_cycles).sum())
    assert draws.scale_cycles.mean() == pytest.approx(mean_scale, rel=0.02)
    hazard = (20_000 / draws.scale_cycles) ** draws.shape
    on_grid = (20_000 / posterior.scale_cycles) ** posterior.shape[:, None]
    exact = float((posterior.probability * np.exp(-on_grid)).sum())
    assert np.exp(-hazard).mean() == pytest.approx(exact, abs=0.005)
    with pytest.raises(ValueError, match="at least one draw is needed, got 0"):
        posterior.draws(0)


def test_lives_without_cycles_say_so():
    with pytest.raises(NotEstimableError, match="No cycles were run under observation"):
        weibull_posterior(Lifetimes.from_ages([5.0], [False], [5.0]))


def test_wrong_priors_are_refused():
    with pytest.raises(ValueError, match="shape_median must be above 0, got -1"):
        FamilyPrior(-1.0)
    with pytest.raises(ValueError, match="needs both its median and its spread"):
        FamilyPrior(scale_median_cycles=5.0)
