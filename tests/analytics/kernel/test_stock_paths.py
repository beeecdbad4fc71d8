import numpy as np
import pytest
from scipy import stats

from analytics.kernel.stock import LeadTime
from analytics.kernel.stock_paths import OpenOrder, WeeklyDemand, simulate_stock

SURE_LEVEL = 1e9


def in_days(*days: float) -> LeadTime:
    return LeadTime(np.array(days), np.full(len(days), 1 / len(days)), 0)


def test_chance_by_chance_alone_is_the_poisson_tail():
    demand = WeeklyDemand(np.full(6, 2.0), 1.0, SURE_LEVEL)
    found = simulate_stock(demand, 9, [], np.random.default_rng(1))
    exact = stats.poisson.sf(9, 2.0 * np.arange(1, 7))
    assert found.short_chance == pytest.approx(exact, abs=0.035)
    # Nothing arrives: once short, always short.
    assert found.short_by.tolist() == found.short_chance.tolist()
    assert found.ever_short == found.short_by[-1]


def test_weekly_counts_have_the_dispersion_asked_for():
    demand = WeeklyDemand(np.full(1, 20.0), 3.0, SURE_LEVEL)
    total = simulate_stock(demand, 0, [], np.random.default_rng(2)).total_demand
    assert total.mean() == pytest.approx(20, rel=0.03)
    assert total.var() / total.mean() == pytest.approx(3, rel=0.15)


def test_one_level_for_all_weeks_of_a_future():
    demand = WeeklyDemand(np.full(26, 4.0), 1.0, 16.0)
    total = simulate_stock(demand, 0, [], np.random.default_rng(3)).total_demand
    assert total.var() == pytest.approx(104 + 104**2 / 16, rel=0.15)


def test_an_order_serves_the_week_it_arrives_in():
    demand = WeeklyDemand(np.full(4, 3.0), 1.0, SURE_LEVEL)
    rng = np.random.default_rng(4)
    found = simulate_stock(demand, 0, [OpenOrder(1000, in_days(14.0))], rng)
    assert found.short_chance[0] == pytest.approx(stats.poisson.sf(0, 3.0), abs=0.02)
    assert found.short_chance[1:].tolist() == [0, 0, 0]
    assert found.short_by[3] == found.short_chance[0]


def test_what_is_left_each_week_is_what_was_there_and_came_less_what_was_taken():
    demand = WeeklyDemand(np.full(4, 3.0), 1.0, SURE_LEVEL)
    order = OpenOrder(20, in_days(10.0, 24.0))
    found = simulate_stock(demand, 12, [order], np.random.default_rng(4))
    assert found.received == pytest.approx([0, 10, 0, 10], abs=0.8)
    low, middle, high = found.stock
    first = 12 - stats.poisson.ppf([0.9, 0.5, 0.1], 3.0)
    assert [low[0], middle[0], high[0]] == pytest.approx(first, abs=1)
    # In half of the futures the order has come by the second week.
    assert low[1] < 12 - 3 < high[1]
    assert (low <= middle).all()
    assert (middle <= high).all()


def test_an_order_may_come_too_late():
    demand = WeeklyDemand(np.full(3, 50.0), 1.0, SURE_LEVEL)
    order = OpenOrder(1000, in_days(7.0, 400.0))
    found = simulate_stock(demand, 0, [order], np.random.default_rng(5))
    assert found.short_chance[2] == pytest.approx(0.5, abs=0.05)
    assert found.first_short_week[0] == 1
    assert np.isinf(found.first_short_week[2])


def test_the_same_seed_gives_the_same_futures():
    demand = WeeklyDemand(np.full(5, 3.0), 1.4, 30.0)
    one, other = (simulate_stock(demand, 8, [], np.random.default_rng(9)) for _ in range(2))
    assert (one.total_demand == other.total_demand).all()


def test_wrong_input_is_named():
    with pytest.raises(ValueError, match="an order holds at least one piece, got 0"):
        OpenOrder(0, in_days(1.0))
    with pytest.raises(ValueError, match=r"dispersion must be 1 or more, got 0\.5"):
        WeeklyDemand(np.ones(2), 0.5, 1.0)
    with pytest.raises(ValueError, match="level_weight must be above 0, got 0"):
        WeeklyDemand(np.ones(2), 1.0, 0.0)
    with pytest.raises(ValueError, match="weekly demand must be 0 or more"):
        WeeklyDemand(-np.ones(2), 1.0, 1.0)
