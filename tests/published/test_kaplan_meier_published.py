"""Product-limit curves against published answers."""

import numpy as np
import pytest

from analytics.kernel.lifetimes import Lifetimes
from analytics.kernel.survival import product_limit
from tests.published.published_data import load


def test_leukaemia_maintained_arm():
    """Miller (1981); printed output in the tests of R's survival package (seen)."""
    data = load("aml_maintained")
    curve = product_limit(Lifetimes.from_ages(data["time"], np.array(data["status"]) == 1), 0.95)
    assert curve.at_cycles.tolist() == [9, 13, 18, 23, 31, 34, 48]
    assert curve.at_risk.tolist() == [11, 10, 8, 7, 5, 4, 2]
    printed = [0.909, 0.818, 0.716, 0.614, 0.491, 0.368, 0.184]
    assert curve.survival == pytest.approx(printed, abs=5.1e-4)
    printed = [0.0867, 0.1163, 0.1397, 0.1526, 0.1642, 0.1627, 0.1535]
    assert curve.standard_error == pytest.approx(printed, abs=5.1e-5)
    printed = [0.7541, 0.6192, 0.4884, 0.3769, 0.2549, 0.1549, 0.0359]
    assert curve.lower == pytest.approx(printed, abs=5.1e-5)
    assert curve.upper == pytest.approx([1, 1, 1, 0.999, 0.946, 0.875, 0.944], abs=5.1e-4)
    assert curve.median_cycles == 31


def test_remission_times():
    """Freireich (1963), table 4.1 of Klein and Moeschberger; data seen, answer recalled."""
    data = load("six_mp")
    curve = product_limit(Lifetimes.from_ages(data["time"], np.array(data["status"]) == 1))
    assert curve.at_cycles.tolist() == [6, 7, 10, 13, 16, 22, 23]
    printed = [0.857, 0.807, 0.753, 0.690, 0.627, 0.538, 0.448]
    assert curve.survival == pytest.approx(printed, abs=5.1e-4)
    printed = [0.076, 0.087, 0.096, 0.107, 0.114, 0.128, 0.135]
    assert curve.standard_error == pytest.approx(printed, abs=5.1e-4)


def test_five_units_with_delayed_entry():
    """A test of the lifelines package that quotes R's survfit (seen)."""
    lives = Lifetimes.from_ages([2, 10, 5, 4, 3], [True] * 5, [1, 2, 4, 0, 0])
    curve = product_limit(lives)
    assert curve.at_cycles.tolist() == [2, 3, 4, 5, 10]
    # A unit that enters at the very age of a failure is not at risk of it.
    assert curve.at_risk.tolist() == [3, 3, 2, 2, 1]
    assert curve.survival == pytest.approx([0.667, 0.444, 0.222, 0.111, 0.0], abs=5.1e-4)


def test_late_entry_cohort():
    """Cole and Hudgens (2010), values in the tests of the lifelines package (seen)."""
    data = load("macs_cohort")
    lives = Lifetimes.from_ages(data["time"], np.array(data["status"]) == 1, data["entry"])
    curve = product_limit(lives)
    assert len(curve.at_cycles) == 26
    at = {age: row for row, age in enumerate(curve.at_cycles.tolist())}
    assert [curve.at_risk[at[age]] for age in (0.269, 0.791, 4.688)] == [42, 44, 11]
    assert curve.survival[at[0.791]] == pytest.approx(0.9540043290043292, rel=1e-13)
    # Not printed there: worked out with another tool.
    assert curve.survival[at[4.688]] == pytest.approx(0.42458846, abs=5e-9)
    assert curve.standard_error[at[2.5]] == pytest.approx(0.070141, abs=1e-6)
    assert curve.median_cycles == 3.062
