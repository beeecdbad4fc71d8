import numpy as np
import pytest

from analytics.kernel.shock_batches import (
    batches_among,
    find_batches,
    forecast_batches,
)


def drawn_demand(found, depot_weeks: float, rng: np.random.Generator) -> np.ndarray:
    """Pieces that batches take in 4,000 futures: a rate from the past, sizes drawn from it."""
    sizes = np.asarray(found.sizes)
    rate = rng.gamma(len(sizes) + 0.5, 1 / found.depot_weeks, 4000)
    count = rng.poisson(rate * depot_weeks)
    future = np.repeat(np.arange(4000), count)
    return np.bincount(future, weights=rng.choice(sizes, int(count.sum())), minlength=4000)


def test_steady_weeks_hold_hardly_a_batch():
    counts = np.random.default_rng(1).poisson(1.5, (20, 150))
    assert find_batches(counts).is_batch.sum() <= 3


def test_planted_batches_are_found_and_kept_out_of_the_mean():
    rng = np.random.default_rng(2)
    counts = rng.poisson(0.6, (10, 104))
    planted = rng.random(counts.shape) < 0.02
    counts[planted] += 9
    found = find_batches(counts)
    assert (found.is_batch == planted).mean() > 0.995
    assert found.is_batch[planted].all()
    assert sorted(found.sizes) == sorted(counts[found.is_batch])
    assert found.depot_weeks == 1040


def test_two_parts_in_a_quiet_depot_are_no_batch():
    counts = np.zeros((1, 100), dtype=int)
    counts[0, 3] = 2
    assert not find_batches(counts).is_batch.any()


def test_wrong_input_is_named():
    with pytest.raises(ValueError, match="whole numbers, 0 or more, by depot and week"):
        find_batches([[0, -1]])


def test_a_wave_of_wear_is_no_batch():
    """Failures that grow from none to eight a week and depot, by chance alone."""
    rising = np.linspace(0, 8, 156)
    found = find_batches(np.random.default_rng(5).poisson(rising, (20, 156)))
    assert found.is_batch.mean() <= 0.002


def test_moments_are_those_of_drawn_futures():
    counts = np.zeros((3, 120), dtype=int)
    counts[0, [4, 30, 77]] = [5, 9, 7]
    found = find_batches(counts)
    drawn = drawn_demand(found, 39.0, np.random.default_rng(6))
    expected = forecast_batches(found, [39.0])
    assert expected.mean[0] == pytest.approx(drawn.mean(), rel=0.06)
    assert expected.variance[0] == pytest.approx(drawn.var(), rel=0.1)
    assert forecast_batches(find_batches(np.zeros((1, 9), dtype=int)), [5.0]).mean[0] == 0
    with pytest.raises(ValueError, match="weeks ahead must be 0 or more, got -1"):
        forecast_batches(found, [-1.0])


def test_a_batch_is_found_whichever_day_it_began():
    """Eight in seven days from every day of a week, among one a week by chance."""
    rng = np.random.default_rng(7)
    for begin in range(700, 707):
        day = np.concatenate([rng.uniform(0, 1092, 60), begin + np.arange(8) * 0.9])
        found = batches_among(np.zeros(68, int), day, depots=1, weeks=156)
        assert found.in_batch[60:].sum() >= 6
        assert found.in_batch[:60].sum() <= 3
        assert found.sizes.sum() == found.in_batch.sum()
        assert found.depot_weeks == 156


def test_no_failure_is_no_batch():
    found = batches_among([], [], depots=2, weeks=9)
    assert (len(found.in_batch), len(found.sizes), found.depot_weeks) == (0, 0, 18)


def test_chance_is_hardly_ever_a_batch_on_two_grids():
    rng = np.random.default_rng(8)
    day, depot = rng.uniform(0, 700, 2000), rng.integers(0, 20, 2000)
    assert batches_among(depot, day, depots=20, weeks=100).in_batch.mean() <= 0.02


@pytest.mark.parametrize(("depot", "day"), [([2], [3.0]), ([0], [70.0]), ([-1], [3.0])])
def test_rows_outside_are_refused(depot, day):
    with pytest.raises(ValueError, match=r"depots must lie in 0..1 and days in 0..70"):
        batches_among(depot, day, depots=2, weeks=10)
    with pytest.raises(ValueError, match="do not match"):
        batches_among([0, 1], [3.0], depots=2, weeks=10)
