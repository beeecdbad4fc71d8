import numpy as np
import pytest
from scipy import stats

from analytics.kernel.count_distribution import match_counts
from analytics.kernel.stock import (
    LeadTime,
    lead_demand,
    lead_time_distribution,
    mixture_quantiles,
    mixture_shortage,
    spread_lead_time,
    stock_levels,
    suggest_order,
)

SIXTY_DAYS = LeadTime(np.array([60.0]), np.array([1.0]), 0)


def steady(per_day: float):
    def demand(days):
        return per_day * days, per_day * days

    return demand


def test_few_receipts_lean_on_the_quotation():
    none = lead_time_distribution([], 60.0)
    assert none.mean_days == pytest.approx(60, rel=0.01)
    assert np.std(none.days) / 60 == pytest.approx(0.35, rel=0.05)
    some = lead_time_distribution([90.0] * 4, 60.0)
    assert some.mean_days == pytest.approx(75, rel=0.01)
    enough = lead_time_distribution([80.0, 90, 100, 85, 95, 90, 88, 92], 60.0)
    assert enough.mean_days == pytest.approx(90, rel=0.01)
    assert np.std(enough.days) < 7
    assert none.probability.sum() == pytest.approx(1)


def test_receipts_that_never_vary_are_taken_at_their_word():
    found = lead_time_distribution([30.0] * 8, 60.0)
    assert found.days.tolist() == [30.0]
    assert found.receipts == 8


def test_an_order_that_has_waited_comes_in_one_of_the_longer_times():
    lead = LeadTime(np.array([10.0, 20.0, 40.0]), np.array([0.5, 0.25, 0.25]), 9)
    left = lead.still_to_come(15.0)
    assert left.days.tolist() == [5.0, 25.0]
    assert left.probability.tolist() == [0.5, 0.5]
    assert lead.still_to_come(0.0).mean_days == lead.mean_days
    # Longer than ever: within a review, rather than today or never.
    assert lead.still_to_come(40.0).days.tolist() == [7.0]


def test_a_spread_lead_time_has_its_mean_and_spread():
    found = spread_lead_time(30.0, 9.0)
    assert found.mean_days == pytest.approx(30, rel=0.01)
    assert np.std(found.days) == pytest.approx(9, rel=0.06)
    assert spread_lead_time(0.0, 0.0).days.tolist() == [0.0]


def test_levels_of_steady_demand_are_poisson_quantiles():
    found = stock_levels(steady(0.1), SIXTY_DAYS, 30.0, 0.95)
    assert found.reorder_point == stats.poisson.ppf(0.95, 6)
    assert found.order_up_to == stats.poisson.ppf(0.95, 9)
    assert isinstance(found.reorder_point, int)


def test_spread_of_the_lead_time_raises_the_level():
    """14 a week, 9 weeks with a variation of 0.35, one week of review, 95 %.

    A fixed lead time gives 160, the mixture 223 (worked out beforehand by another tool).
    """
    fixed = LeadTime(np.array([63.0]), np.array([1.0]), 0)
    assert stock_levels(steady(2.0), fixed, 7.0, 0.95).order_up_to == 160
    varying = lead_time_distribution([], 63.0)
    assert stock_levels(steady(2.0), varying, 7.0, 0.95).order_up_to == pytest.approx(223, abs=2)


def test_cycle_service_holds_in_a_simulated_store():
    rng = np.random.default_rng(5)
    lead = lead_time_distribution([], 63.0)
    found = stock_levels(steady(0.2), lead, 7.0, 0.95)
    days = rng.gamma(1 / 0.35**2, 63 * 0.35**2, 200_000)
    assert (rng.poisson(0.2 * days) <= found.reorder_point).mean() == pytest.approx(0.95, abs=0.015)


def test_fill_rate_agrees_with_a_simulated_store():
    """Order up to the level every 30 days, received 60 days later; share met from the shelf."""
    rng = np.random.default_rng(6)
    found = stock_levels(steady(0.1), SIXTY_DAYS, 30.0, 0.80)
    level = found.order_up_to
    periods = rng.poisson(3.0, 200_000)
    # What was demanded in the three periods before an order's arrival and up to the next one.
    carried = periods[:-2] + periods[1:-1]
    short = np.maximum(carried + periods[2:] - level, 0) - np.maximum(carried - level, 0)
    assert found.fill_rate == pytest.approx(1 - short.sum() / periods[2:].sum(), abs=0.005)


def test_fill_rate_of_one_for_one_ordering_is_the_chance_of_a_piece_left():
    found = stock_levels(steady(0.05), SIXTY_DAYS, 0.0, 0.95)
    assert found.order_up_to == found.reorder_point == 6
    assert found.fill_rate == pytest.approx(stats.poisson.cdf(5, 3.0))


def test_no_demand_needs_no_stock():
    found = stock_levels(steady(0.0), SIXTY_DAYS, 30.0, 0.99)
    assert (found.reorder_point, found.order_up_to, found.fill_rate) == (0, 0, None)


def test_mixture_is_that_of_its_parts():
    parts = match_counts([2.0, 9.0], [2.0, 30.0])
    weights = np.array([0.7, 0.3])
    k = np.arange(400)
    reached = parts.cdf(k[:, None]) @ weights
    assert mixture_quantiles(parts, weights, 0.97) == int(np.argmax(reached >= 0.97))
    pmf = np.diff(np.concatenate([[0.0], reached]))
    assert mixture_shortage(parts, weights, 5) == pytest.approx(pmf @ np.maximum(k - 5, 0))
    assert mixture_shortage(parts, weights, 0) == pytest.approx(4.1)


def test_levels_of_many_shelves_are_those_of_each():
    lead, rates = lead_time_distribution([], 63.0), np.array([0.02, 0.3, 2.0])
    many = lead_demand(lambda days: (rates[:, None] * days, 1.5 * rates[:, None] * days), lead, 7.0)
    wanted = np.array([[0.9], [0.98]])
    each = [
        [stock_levels(lambda d, r=rate: (r * d, 1.5 * r * d), lead, 7.0, level) for rate in rates]
        for level in (0.9, 0.98)
    ]
    assert many.reorder_point(wanted).tolist() == [[x.reorder_point for x in row] for row in each]
    assert many.order_up_to(wanted).tolist() == [[x.order_up_to for x in row] for row in each]


@pytest.mark.parametrize(
    ("position", "pack", "minimum", "order"),
    [(5, 1, 1, 0), (4, 1, 1, 6), (4, 4, 1, 8), (4, 1, 9, 9), (-3, 5, 1, 15)],
)
def test_orders_fill_up_in_whole_packs(position, pack, minimum, order):
    assert suggest_order(position, 4, 10, pack, minimum) == order


def test_nothing_is_ordered_for_a_level_of_nothing():
    assert suggest_order([0, 2, -1], 0, 0).tolist() == [0, 0, 1]


def test_wrong_input_is_named():
    with pytest.raises(ValueError, match="a quoted lead time must be above 0 days, got 0"):
        lead_time_distribution([], 0.0)
    with pytest.raises(ValueError, match="a receipt takes 0 or more days, got -1"):
        lead_time_distribution([-1.0], 5.0)
    with pytest.raises(ValueError, match="a service level lies between 0 and 1, got 1"):
        stock_levels(steady(1.0), SIXTY_DAYS, 0.0, 1.0)
    with pytest.raises(ValueError, match="a review period is 0 or more days, got -1"):
        stock_levels(steady(1.0), SIXTY_DAYS, -1.0, 0.9)
    with pytest.raises(ValueError, match="a pack holds at least one piece, got 0"):
        suggest_order(1, 2, 3, pack=0)
