import numpy as np
import pytest

from analytics.kernel.demand import PositionCells, bin_positions, forecast_base_demand
from analytics.kernel.planned_demand import forecast_planned_demand
from analytics.kernel.posterior import WeibullDraws


def life(shape: float, scale: float) -> WeibullDraws:
    return WeibullDraws(np.array([shape]), np.array([scale]))


def one_cell(age: float, rate: float = 100.0, count: float = 1.0) -> PositionCells:
    return PositionCells(np.array([age]), np.array([rate]), np.array([count]))


def simulated(age: float, further: float, shape: float, scale: float) -> tuple[float, float, float]:
    """Failures, planned jobs at 18,000 and variance of their sum over 100,000 sockets."""
    rng = np.random.default_rng(5)
    planned_at, sockets = 18_000.0, 100_000
    start = np.full(sockets, -age)
    ends = scale * ((age / scale) ** shape + rng.exponential(size=sockets)) ** (1 / shape) - age
    failures, planned = np.zeros(sockets), np.zeros(sockets)
    while True:
        job = start + planned_at
        following = np.minimum(ends, job)
        due = following <= further
        if not due.any():
            return failures.mean(), planned.mean(), (failures + planned).var()
        failures += due & (ends < job)
        planned += due & (ends >= job)
        start = np.where(due, following, np.inf)
        ends = np.where(due, following + scale * rng.weibull(shape, sockets), np.inf)


@pytest.mark.parametrize(
    ("age", "further", "shape"),
    [(0, 9_000, 3.0), (15_000, 2_500, 3.0), (15_000, 4_000, 3.0), (6_000, 50_000, 1.3)],
)
def test_both_kinds_agree_with_simulated_sockets(age, further, shape):
    failures, planned, _ = simulated(age, further, shape, 25_000.0)
    found = forecast_planned_demand(life(shape, 25_000.0), [further / 100], one_cell(age), 18_000)
    assert found.failures_mean[0] == pytest.approx(failures, rel=0.02, abs=0.003)
    assert found.planned_mean[0] == pytest.approx(planned, rel=0.02, abs=0.003)


def test_variance_within_one_cycle_is_that_of_simulated_sockets():
    *_, variance = simulated(15_000, 2_500, 3.0, 25_000.0)
    found = forecast_planned_demand(life(3.0, 25_000.0), [25.0], one_cell(15_000), 18_000)
    assert found.variance[0] == pytest.approx(variance, rel=0.03)


def test_a_planned_age_beyond_every_life_changes_nothing():
    rng = np.random.default_rng(2)
    cells = bin_positions(rng.uniform(0, 30_000, 500), rng.uniform(20, 60, 500))
    plain = forecast_base_demand(life(2.0, 20_000.0), [60.0, 180.0], cells)
    found = forecast_planned_demand(life(2.0, 20_000.0), [60.0, 180.0], cells, 90_000)
    assert found.failures_mean == pytest.approx(plain.mean, rel=5e-3)
    assert found.planned_mean == pytest.approx([0, 0], abs=1e-6)
    assert found.variance == pytest.approx(plain.variance, rel=1e-2)


def test_an_overdue_part_is_taken_at_once():
    found = forecast_planned_demand(life(3.0, 90_000.0), [0.0], one_cell(40_000, count=7), 18_000)
    assert found.planned_mean.tolist() == [7.0]


def test_groups_keep_their_shape():
    cells = bin_positions([100.0, 9_000.0], [50.0, 60.0], [0, 1])
    found = forecast_planned_demand(life(3.0, 25_000.0), [10.0, 90.0], cells, 10_000)
    assert found.failures_mean.shape == found.planned_mean.shape == (2, 2)
    assert found.variance.shape == (2, 2)
    assert found.planned_mean[1, 1] > 0.9


def test_wrong_input_is_named():
    with pytest.raises(ValueError, match="a planned age must be above 0 cycles, got 0"):
        forecast_planned_demand(life(1, 1), [1.0], one_cell(0), 0)
    with pytest.raises(ValueError, match="a horizon must be 0 or more days, got -1"):
        forecast_planned_demand(life(1, 1), [-1.0], one_cell(0), 10)
    with pytest.raises(ValueError, match="a door would run 50 planned ages"):
        forecast_planned_demand(life(1, 1), [5.0], one_cell(0), 10)
