import numpy as np
import pytest
from scipy.special import gamma

from analytics.kernel.renewal import (
    TABLE_SHAPES,
    expected_replacements,
    renewal_function,
    renewal_table,
)


def simulated(seed: int, age: float, further: float, shape: float) -> tuple[float, float]:
    """Mean replacements and its standard error over 200,000 sockets."""
    rng = np.random.default_rng(seed)
    count = np.zeros(200_000)
    clock = (age**shape + rng.exponential(size=len(count))) ** (1 / shape) - age
    running = clock <= further
    while running.any():
        count += running
        clock = np.where(running, clock + rng.weibull(shape, len(count)), np.inf)
        running = clock <= further
    return float(count.mean()), float(count.std() / np.sqrt(len(count)))


@pytest.mark.parametrize(
    ("shape", "age", "further"),
    [(0.6, 0.1, 0.5), (1.4, 0.5, 1.2), (2.2, 3.0, 0.4), (3.0, 0.9, 1.5), (6.0, 0.9, 2.2)],
)
def test_table_agrees_with_simulation(shape, age, further):
    mean, error = simulated(7, age, further, shape)
    found = float(expected_replacements(age * 4e4, further * 4e4, shape, 4e4))
    assert found == pytest.approx(mean, abs=4 * error + 1e-3 * mean)


def test_random_failures_are_renewed_at_a_steady_rate():
    horizon = np.array([0.0, 0.4, 1.7, 2.9, 8.0])
    assert renewal_function(horizon, 1.0) == pytest.approx(horizon, abs=1e-4)
    aged = expected_replacements([0.0, 3e4, 9e5], 2e4, 1.0, 4e4)
    assert aged == pytest.approx([0.5] * 3, abs=5e-4)


@pytest.mark.parametrize("shape", [0.6, 1.4, 2.5, 4.0])
def test_recursion_agrees_with_a_series_of_convolutions(shape):
    """M is the sum of the chances of at least 1, 2, 3, ... failures."""
    steps = 3000
    edges = np.arange(steps + 1) * (1.5 / steps)
    once = np.diff(-np.expm1(-(edges**shape)))
    total, chance = np.zeros(steps), once
    for _ in range(40):
        total += np.cumsum(chance)
        # Half a step of each life lies on either side of the middle it is placed at.
        full = np.convolve(chance, once)[: steps + 1]
        chance = (full[:steps] + np.concatenate([[0.0], full[: steps - 1]])) / 2
    at = [steps // 4, steps // 2, steps - 1]
    found = renewal_function(edges[np.array(at) + 1], shape)
    assert found == pytest.approx(total[at], rel=2e-3)


def test_long_horizons_go_on_at_one_per_mean_life():
    mean_life = gamma(1 + 1 / 2.2)
    rise = renewal_function(7.0, 2.2) - renewal_function(5.0, 2.2)
    assert rise == pytest.approx(2 / mean_life)
    mean, error = simulated(3, 0.5, 5.0, 2.2)
    found = float(expected_replacements(0.5, 5.0, 2.2, 1.0))
    assert found == pytest.approx(mean, abs=4 * error + 5e-3)


def test_only_a_first_failure_matters_in_a_short_time():
    found = float(expected_replacements(3e4, 10.0, 2.0, 4e4))
    assert found == pytest.approx(-np.expm1(0.75**2 - 0.75025**2), rel=1e-3)


def test_shapes_beyond_the_table_take_its_last():
    assert (renewal_table(50.0).later == renewal_table(float(TABLE_SHAPES[-1])).later).all()


def test_wrong_input_is_refused():
    with pytest.raises(ValueError, match="shape must be above 0, got 0"):
        renewal_function(1.0, 0.0)
    with pytest.raises(ValueError, match="a horizon must not be negative, got -1"):
        renewal_function(-1.0, 1.0)
    with pytest.raises(ValueError, match="must not be negative"):
        expected_replacements(-1.0, 1.0, 1.0, 1.0)
    with pytest.raises(ValueError, match="shape and scale must be above 0"):
        expected_replacements(1.0, 1.0, 1.0, 0.0)
