"""Lead-time demand and stock levels against published answers and tables."""

import numpy as np
import pytest
from scipy import stats

from analytics.kernel.compound_poisson import compound_poisson_pmf
from analytics.kernel.count_distribution import match_counts, smallest_count
from analytics.kernel.stock import LeadTime, stock_levels
from analytics.kernel.weibull import life_quantile, survival_probability

# Smallest level that Poisson demand of each mean does not exceed, worked out beforehand.
STORES_MEANS = [0.1, 0.25, 0.5, 1, 2, 3, 5, 8, 12]
STORES_LEVELS = {
    0.90: [0, 1, 1, 2, 4, 5, 8, 12, 17],
    0.95: [1, 1, 2, 3, 5, 6, 9, 13, 18],
    0.98: [1, 2, 2, 3, 5, 7, 10, 14, 20],
    0.99: [1, 2, 3, 4, 6, 8, 11, 15, 21],
}
POISSON_LEVELS = {
    0.5: [1, 1, 2, 2, 3],
    1: [2, 2, 3, 3, 4],
    2: [3, 4, 5, 5, 6],
    3: [4, 5, 6, 7, 8],
    4: [6, 7, 8, 9, 9],
    5: [7, 8, 9, 10, 11],
    8: [10, 12, 13, 14, 15],
    10: [13, 14, 15, 17, 18],
}


def test_two_week_demand_of_a_textbook():
    """Boylan and Syntetos (2021), tables 3.2-3.4 (seen): weekly 0, 1, 2 with .5, .3, .2."""
    weekly = [0.5, 0.3, 0.2]
    table = np.convolve(weekly, weekly)
    assert table == pytest.approx([0.25, 0.30, 0.29, 0.12, 0.04], abs=1e-12)
    reached = np.append(np.cumsum(table), 1.0)

    def chance_of_at_most(count):
        return np.where(count < 0, 0.0, reached[np.clip(count, 0, 5).astype(int)])

    levels = smallest_count(chance_of_at_most, np.array([0.25, 0.5, 0.8, 0.95]), np.array(1.0))
    assert levels.tolist() == [0, 1, 2, 3]


def test_compound_poisson_of_a_textbook():
    """Kaas et al., chapter 3: input seen; .0183 .0183 .0458 .0580 recalled."""
    pmf = compound_poisson_pmf(4, [0, 0.25, 0.5, 0.25], 60)
    assert pmf[:4] == pytest.approx([0.0183, 0.0183, 0.0458, 0.0580], abs=5.1e-5)
    # Not printed there: worked out with another tool.
    counts = np.arange(60)
    mean = pmf @ counts
    assert (mean, pmf @ counts**2 - mean**2) == pytest.approx((8.0, 18.0), abs=1e-6)
    reached = np.cumsum(pmf)
    assert [int(np.argmax(reached >= level)) for level in (0.9, 0.95, 0.99)] == [14, 16, 20]


@pytest.mark.parametrize("mean", sorted(POISSON_LEVELS))
def test_poisson_levels(mean):
    """Two values as in any cumulative Poisson table (recalled), the rest worked out."""
    found = match_counts(mean, mean).quantile([0.8, 0.9, 0.95, 0.98, 0.99])
    assert found.tolist() == POISSON_LEVELS[mean]
    three = match_counts(3.0, 3.0)
    assert three.cdf([5, 6]) == pytest.approx([0.9161, 0.9665], abs=5e-5)


@pytest.mark.parametrize("level", sorted(STORES_LEVELS))
def test_stores_table_for_slow_movers(level):
    """Poisson table of reorder points for slow movers, worked out beforehand."""
    means = np.array(STORES_MEANS)
    assert match_counts(means, means).quantile(level).tolist() == STORES_LEVELS[level]


def test_negative_binomial_is_a_compound_poisson():
    """Identity: Poisson jobs of logarithmic size; anchors from scipy, no publication."""
    size, chance = 2.5, 0.4
    k = np.arange(1, 400)
    sizes = np.concatenate([[0.0], -((1 - chance) ** k) / (k * np.log(chance))])
    pmf = compound_poisson_pmf(-size * np.log(chance), sizes / sizes.sum(), 61)
    assert pmf == pytest.approx(stats.nbinom.pmf(np.arange(61), size, chance), abs=1e-14)
    mean, variance = size * (1 - chance) / chance, size * (1 - chance) / chance**2
    reached = match_counts(mean, variance).cdf(np.arange(61))
    assert reached == pytest.approx(np.cumsum(pmf), abs=1e-12)
    levels = [0.90, 0.95, 0.99]
    assert match_counts(3.0, 6.0).quantile(levels).tolist() == [6, 8, 11]
    assert match_counts(2.0, 3.0).quantile(levels).tolist() == [4, 5, 7]


@pytest.mark.parametrize(("service", "level"), [(0.90, 7), (0.95, 8), (0.98, 9)])
def test_two_hundred_doors(service, level):
    """200 doors, 20,400 cycles a year, MCBF 120,000, seven weeks: 4.58 parts (worked out)."""
    yearly = 200 * 20_400 / 120_000
    assert yearly == pytest.approx(34.0)
    seven_weeks = LeadTime(np.array([49.0]), np.array([1.0]), 0)

    def demand(days):
        mean = yearly * days / (7 * 52)
        return mean, mean

    found = stock_levels(demand, seven_weeks, 0.0, service)
    assert found.lead_mean == pytest.approx(4.58, abs=5e-3)
    assert found.reorder_point == level


def test_weibull_life_and_chance_of_failing_soon():
    """Shape 2, scale 90,000: B10 29,213; next 5,000 after 60,000: 7.4 % (worked out)."""
    assert round(float(life_quantile(0.1, 2, 90_000))) == 29_213
    now, later = survival_probability([60_000, 65_000], 2, 90_000)
    assert 1 - later / now == pytest.approx(0.074, abs=5e-4)
