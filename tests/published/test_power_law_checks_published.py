"""Fit, common slope, gaps and limits of the power law against published answers."""

import pytest

from analytics.kernel.lifetimes import NotEstimableError
from analytics.kernel.power_law_checks import (
    compare_slopes,
    count_reversals,
    cramer_von_mises,
    mean_at_end,
)
from analytics.kernel.recurrence import RepairHistories
from tests.published.published_data import load
from tests.published.test_power_law_published import of_systems


def test_limits_of_the_nist_case_study():
    """NIST/SEMATECH e-Handbook 8.4.5.2 and the printed output of its script (seen)."""
    data = load("power_law")["nist"]
    found = mean_at_end(of_systems([data["failure_times"]], [data["T"]]), 0.8)
    assert found.cycles == pytest.approx(310.234, abs=5e-4)
    assert found.lower_cycles == pytest.approx(157.7138, abs=5e-5)
    assert found.upper_cycles == pytest.approx(548.5566, abs=5e-5)


def test_distance_of_three_systems_of_army_report():
    """AMSAA Technical Report 138 (Crow, 1975), printed 0.069 (scan seen)."""
    data = load("power_law")["amsaa"]
    found = cramer_von_mises(of_systems(data["systems"], data["T"]))
    assert found == pytest.approx(0.06953089, abs=1e-8)  # printed as 0.069: cut, not rounded
    assert f"{found:.4f}"[:5] == "0.069"


def test_distance_of_handbook_189_times():
    """MIL-HDBK-189 (1981), appendix C: ten digits seen in a validation script."""
    data = load("power_law")["handbook_189"]
    found = cramer_von_mises(of_systems([data["failure_times"]], [data["T"]]))
    assert found == pytest.approx(0.0910611, abs=5e-8)


def test_three_systems_share_one_slope():
    """Vignette of the R package mcotear on the data of AMSAA Technical Report 138 (seen)."""
    data = load("power_law")["amsaa"]
    found = compare_slopes(of_systems(data["systems"], data["T"]))
    assert found.slopes == pytest.approx((0.50853695, 0.56735431, 0.88696531), abs=1e-8)
    assert found.statistic == pytest.approx(1.762104, abs=5e-7)
    assert found.degrees_of_freedom == 2
    assert found.p == pytest.approx(0.4143468, abs=5e-8)


def test_reversals_of_the_nist_case_study():
    """NIST/SEMATECH e-Handbook 8.2.3.4: method seen, 33 of 45 worked out with another tool."""
    times = load("power_law")["nist"]["failure_times"]
    gaps = [b - a for a, b in zip([0, *times[:-1]], times, strict=True)]
    found = count_reversals(gaps)
    assert (found.reversals, found.possible) == (33, 45)


def test_windows_that_start_later_are_refused():
    late = RepairHistories.from_columns([10.0, 0.0], [100.0, 100.0], [0, 1], [50.0, 60.0])
    for rule in (cramer_von_mises, compare_slopes):
        with pytest.raises(NotEstimableError, match="windows that start at 0"):
            rule(late)


def test_too_few_failures_say_so():
    one = RepairHistories.from_columns([0.0], [100.0], [0], [50.0])
    with pytest.raises(NotEstimableError, match="at least two failures, got 1"):
        cramer_von_mises(one)
    with pytest.raises(NotEstimableError, match="two doors with failures"):
        compare_slopes(one)
    with pytest.raises(NotEstimableError, match="one door with two failures"):
        mean_at_end(one)
