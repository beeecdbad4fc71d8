"""Power-law slopes against published answers."""

import pytest

from analytics.kernel.recurrence import RepairHistories
from analytics.kernel.trend import PowerLaw, fit_power_law
from tests.published.published_data import load


def of_systems(systems: list[list[float]], ends: list[float]) -> RepairHistories:
    door = [index for index, ages in enumerate(systems) for _ in ages]
    ages = [age for system in systems for age in system]
    return RepairHistories.from_columns([0.0] * len(systems), ends, door, ages)


def mean_between_failures_at(end: float, law: PowerLaw, slope: float, rate: float) -> float:
    return 1 / (rate * slope * end ** (slope - 1))


def test_nist_case_study():
    """NIST/SEMATECH e-Handbook 8.4.5.2 and the printed output of its script (seen).

    The handbook prints the slope with one failure taken off (its modified estimate).
    """
    data = load("power_law")["nist"]
    law = fit_power_law(of_systems([data["failure_times"]], [data["T"]]))
    assert law.slope_unbiased == pytest.approx(0.483506, abs=5e-7)
    assert 1 - law.slope_unbiased == pytest.approx(0.516494, abs=5e-7)
    rate = law.failures / data["T"] ** law.slope_unbiased
    assert rate == pytest.approx(0.2913003, abs=5e-7)
    found = mean_between_failures_at(data["T"], law, law.slope_unbiased, rate)
    assert found == pytest.approx(310.234, abs=5e-4)


def test_three_systems_of_army_report():
    """AMSAA Technical Report 138 (Crow, 1975), table 1 (scan seen), and an R vignette (seen)."""
    data = load("power_law")["amsaa"]
    law = fit_power_law(of_systems(data["systems"], data["T"]))
    assert law.rate == pytest.approx(0.461, abs=5e-4)
    assert law.slope == pytest.approx(0.615, abs=5e-4)
    assert law.slope_unbiased == pytest.approx(0.598, abs=5e-4)
    assert law.slope == pytest.approx(0.6153363, abs=1e-7)
    assert law.rate == pytest.approx(0.4605471, abs=1e-7)
    assert law.rate * law.scale_cycles**law.slope == pytest.approx(1)


def test_handbook_189_individual_times():
    """MIL-HDBK-189 (1981), appendix C: .716 and .454 recalled, ten digits seen elsewhere."""
    data = load("power_law")["handbook_189"]
    law = fit_power_law(of_systems([data["failure_times"]], [data["T"]]))
    assert law.slope == pytest.approx(0.7163392624, abs=1e-10)
    assert law.rate == pytest.approx(0.4538418614, abs=1e-9)
    found = mean_between_failures_at(data["T"], law, law.slope, law.rate)
    assert found == pytest.approx(15.510962, abs=1e-6)
