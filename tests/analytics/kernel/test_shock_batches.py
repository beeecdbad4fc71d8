import numpy as np
import pytest

from analytics.kernel.shock_batches import draw_batch_demand, find_batches


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


def test_drawn_demand_has_the_mean_of_the_past():
    counts = np.zeros((4, 100), dtype=int)
    counts[:, ::10] = 6
    found = find_batches(counts)
    drawn = draw_batch_demand(found, 4 * 13, np.random.default_rng(3))
    assert drawn.mean() == pytest.approx(40.5 / 400 * 52 * 6, rel=0.05)
    assert (drawn % 6 == 0).all()
    again = draw_batch_demand(found, 4 * 13, np.random.default_rng(3))
    assert (drawn == again).all()


def test_no_batch_ever_draws_nothing():
    found = find_batches(np.zeros((2, 10), dtype=int))
    assert draw_batch_demand(found, 26, np.random.default_rng(1)).sum() == 0


def test_wrong_input_is_named():
    with pytest.raises(ValueError, match="whole numbers, 0 or more, by depot and week"):
        find_batches([[0, -1]])
    with pytest.raises(ValueError, match="weeks ahead must be 0 or more, got -1"):
        draw_batch_demand(find_batches([[0]]), -1, np.random.default_rng(1))
