import numpy as np
import pytest

from analytics.kernel.lifetimes import Lifetimes


def test_rows_are_told_apart():
    lives = Lifetimes.from_intervals([5, 5, 5], [5, 9, np.inf], [1, 0, 2], [1, 2, 3])
    assert lives.exact.tolist() == [True, False, False]
    assert lives.between.tolist() == [False, True, False]
    assert lives.suspended.tolist() == [False, False, True]
    assert (lives.lives, lives.failures, lives.suspensions) == (6, 3, 3)
    assert lives.exposure_cycles == 4 + 2 * 5 + 3 * 3


def test_equal_rows_are_joined():
    lives = Lifetimes.from_ages([7, 3, 7, 7], [True, False, True, False], weights=[1, 1, 2, 1])
    joined = lives.merged()
    assert joined.lo_cycles.tolist() == [3, 7, 7]
    assert joined.weights.tolist() == [1, 3, 1]
    assert (joined.failures, joined.suspensions) == (lives.failures, lives.suspensions)


@pytest.mark.parametrize(
    ("lo", "hi", "entry", "weight", "message"),
    [
        (np.nan, np.inf, 0, 1, "an age must be a finite number: row 0 has nan"),
        (-1, np.inf, 0, 1, "an age must not be negative: row 0 has -1"),
        (5, 4, 0, 1, "a life ends at or after lo: row 0 has 4"),
        (0, 0, 0, 1, "a failure needs an age above 0 cycles: row 0 has 0"),
        (5, 5, -2, 1, "an entry age must be 0 or more: row 0 has -2"),
        (5, 5, 6, 1, "a part enters observation before its life ends: row 0 has 6"),
        (5, 5, 0, 0, "a weight must be above 0 and finite: row 0 has 0"),
    ],
)
def test_wrong_rows_are_named(lo, hi, entry, weight, message):
    with pytest.raises(ValueError, match=message):
        Lifetimes.from_intervals([lo], [hi], [entry], [weight])


def test_columns_of_unequal_length_are_refused():
    with pytest.raises(ValueError, match="columns of equal length"):
        Lifetimes.from_intervals([1, 2], [3, 4], [0])
    with pytest.raises(ValueError, match="failed has"):
        Lifetimes.from_ages([1, 2], [True])
