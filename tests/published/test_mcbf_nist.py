"""Bounds of the mean between failures against the NIST/SEMATECH e-Handbook, section 8.4.5.1.

The formula was seen there (lower = mean * 2r/chi2(1-a/2; 2r+2), upper = mean * 2r/chi2(a/2; 2r);
without failures T/(-ln a)). The factors for one failure are recalled from its table; the other
rows were worked out from the seen formula with another tool.
"""

import numpy as np
import pytest

from analytics.kernel.mcbf import estimate_mcbf

# confidence, failures, lower factor, upper factor
RECALLED = [(0.9, 1, 0.2108, 19.4958), (0.6, 1, 0.3340, 4.4814)]
WORKED_OUT = [
    (0.6, 2, 0.4674, 2.4260),
    (0.6, 10, 0.7326, 1.3719),
    (0.8, 1, 0.2571, 9.4912),
    (0.8, 5, 0.5391, 2.0554),
    (0.9, 2, 0.3177, 5.6281),
    (0.9, 3, 0.3869, 3.6689),
    (0.9, 5, 0.4756, 2.5379),
    (0.9, 10, 0.5895, 1.8432),
    (0.95, 1, 0.1795, 39.4979),
    (0.95, 10, 0.5438, 2.0853),
]


@pytest.mark.parametrize(("confidence", "failures", "lower", "upper"), RECALLED + WORKED_OUT)
def test_factors_of_the_mean(confidence, failures, lower, upper):
    found = estimate_mcbf(12_345.0, failures, confidence)
    mean = 12_345.0 / failures
    assert found.mcbf_cycles[0] == pytest.approx(mean)
    assert found.lower_cycles[0] / mean == pytest.approx(lower, abs=1.01e-4)
    assert found.upper_cycles[0] / mean == pytest.approx(upper, abs=1.01e-4)
    assert found.bound[0] == "two-sided"


def test_no_failures_give_one_lower_bound():
    found = estimate_mcbf(100_000.0, 0, 0.9)
    assert found.lower_cycles[0] == pytest.approx(100_000 / -np.log(0.1))
    assert found.bound[0] == "lower-only"
    assert np.isnan(found.mcbf_cycles[0])
    assert np.isnan(found.upper_cycles[0])
