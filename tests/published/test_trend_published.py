"""Trend tests against published answers."""

import pytest

from analytics.kernel.trend import assess_trend
from tests.published.published_data import load
from tests.published.test_power_law_published import of_systems


def test_nist_case_study():
    """NIST/SEMATECH e-Handbook 8.2.3.4: method seen; 37.23 on 20 and 98.9 % recalled."""
    data = load("power_law")["nist"]
    found = assess_trend(of_systems([data["failure_times"]], [data["T"]]))
    assert found.chi2 == pytest.approx(37.23, abs=5e-3)
    assert found.degrees_of_freedom == 20
    assert 1 - found.chi2_p / 2 == pytest.approx(0.989, abs=5e-4)
    # Not printed there: worked out with another tool.
    assert found.laplace_u == pytest.approx(-1.32694918, abs=1e-8)
    assert found.laplace_p == pytest.approx(0.18452549, abs=1e-8)


def test_three_systems_pooled():
    """Vignette of the R package mcotear on the data of AMSAA Technical Report 138 (seen)."""
    data = load("power_law")["amsaa"]
    found = assess_trend(of_systems(data["systems"], data["T"]))
    assert found.chi2 == pytest.approx(117.0092, abs=5e-5)
    assert found.degrees_of_freedom == 72
    assert found.chi2_p == pytest.approx(0.001269251, abs=1e-9)
    assert found.laplace_u == pytest.approx(-3.012036, abs=1e-6)
    assert found.laplace_p == pytest.approx(0.002595015, abs=1e-9)
