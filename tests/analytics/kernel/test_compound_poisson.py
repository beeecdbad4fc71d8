import numpy as np
import pytest
from scipy import stats

from analytics.kernel.compound_poisson import compound_poisson_pmf


def test_jobs_of_one_piece_are_plain_poisson():
    found = compound_poisson_pmf(3.3, [0.0, 1.0], 30)
    assert found == pytest.approx(stats.poisson.pmf(np.arange(30), 3.3), abs=1e-14)


def test_recursion_agrees_with_a_sum_over_the_number_of_jobs():
    sizes = np.array([0.1, 0.4, 0.3, 0.2])
    slow, power = np.zeros(40), np.ones(1)
    for jobs in range(60):
        slow += stats.poisson.pmf(jobs, 2.5) * np.pad(power, (0, 40))[:40]
        power = np.convolve(power, sizes)
    assert compound_poisson_pmf(2.5, sizes, 40) == pytest.approx(slow, abs=1e-13)


def test_very_many_jobs_do_not_underflow():
    found = compound_poisson_pmf(1500.0, [0.0, 1.0], 2500)
    assert found.sum() == pytest.approx(1.0)
    assert found @ np.arange(2500) == pytest.approx(1500.0)


def test_no_jobs_take_nothing():
    assert compound_poisson_pmf(0.0, [0.0, 1.0], 3).tolist() == [1, 0, 0]


@pytest.mark.parametrize(
    ("rate", "sizes", "length", "message"),
    [
        (-1.0, [0, 1], 3, "the rate of jobs must be 0 or more, got -1"),
        (1.0, [0, 0.5], 3, "job sizes need chances that sum to 1, got 0.5"),
        (1.0, [0, 1], 0, "at least one chance must be asked for, got 0"),
    ],
)
def test_wrong_input_is_named(rate, sizes, length, message):
    with pytest.raises(ValueError, match=message):
        compound_poisson_pmf(rate, sizes, length)
