import numpy as np
import pytest

from analytics.kernel.count_distribution import match_counts
from analytics.kernel.demand_history import croston, flat_year_demand, sba, tsb
from analytics.kernel.lifetimes import NotEstimableError


def test_only_the_last_year_counts():
    history = [50.0] * 10 + [1.0, 0.0] * 26
    found = flat_year_demand(history, [8.0])
    assert found.weeks == 52
    assert found.mean[0, 0] == pytest.approx(4.0)


def test_flat_year_covers_what_then_happens():
    rng = np.random.default_rng(3)
    pace = rng.gamma(2.0, 0.4, (4000, 1))
    past = rng.poisson(pace, (4000, 52))
    future = rng.poisson(pace[:, 0] * 10)
    found = flat_year_demand(past, [10.0])
    level = match_counts(found.mean[:, 0], found.variance[:, 0]).quantile(0.95)
    assert 0.95 <= (future <= level).mean() <= 0.985


def test_a_part_never_used_is_expected_never():
    found = flat_year_demand(np.zeros(52), [4.0])
    assert (found.mean[0, 0], found.variance[0, 0]) == (0, 0)


def test_rows_are_smoothed_like_single_series():
    rng = np.random.default_rng(1)
    rows = rng.poisson(0.4, (5, 60)).astype(float)
    for rule in (croston, sba, tsb):
        together = rule(rows, 0.2, 0.1)
        alone = np.stack([rule(row, 0.2, 0.1) for row in rows])
        assert together == pytest.approx(alone, nan_ok=True)
        assert together.shape == (5, 61)


def test_tsb_of_a_steady_series_stays():
    assert tsb([2.0] * 30, 0.1, 0.1) == pytest.approx([2.0] * 31)


def test_a_part_never_used_has_no_smoothed_forecast():
    assert np.isnan(croston([0, 0, 0], 0.1, 0.1)).all()
    assert np.isnan(tsb([0, 0, 0], 0.1, 0.1)).all()


def test_wrong_input_is_named():
    with pytest.raises(NotEstimableError, match="at least two weeks of history, got 1"):
        flat_year_demand([3.0], [1.0])
    with pytest.raises(ValueError, match="demand must be 0 or more and finite, got -1"):
        tsb([-1.0], 0.1, 0.1)
    with pytest.raises(ValueError, match=r"a smoothing constant lies in \(0, 1\], got 0"):
        croston([1.0], 0.0, 0.1)
