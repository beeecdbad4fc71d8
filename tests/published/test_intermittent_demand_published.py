"""Smoothing of intermittent demand against published answers."""

import numpy as np
import pytest

from analytics.kernel.demand_history import croston, sba, tsb
from tests.published.published_data import load

SHORT = [0, 0, 3, 0, 4, 0, 0, 0, 2, 0]


@pytest.mark.parametrize(("constant", "printed"), [(0.1, 0.8688921), (0.5, 0.6754646)])
def test_croston_on_monthly_scripts(constant, printed):
    """Output of R's forecast package quoted in the tests of sktime (seen); data of fpp3 13.2."""
    path = croston(load("pbs_j06")["y"], constant, constant)
    assert path[-1] == pytest.approx(printed, abs=5e-8)


@pytest.mark.parametrize(
    ("rule", "printed"),
    [
        (croston, [1, 1, 1.25, 1.25, 1.25, 1.25, 0.904605, 0.904605]),
        (sba, [0.9, 0.9, 1.125, 1.125, 1.125, 1.125, 0.8141447, 0.8141447]),
    ],
)
def test_paths_of_a_short_series(rule, printed):
    """Test values of the Python package intermittent-forecast (seen), after R's tsintermittent."""
    path = rule(SHORT, 0.5, 0.2)
    assert np.isnan(path[:3]).all()
    assert path[3:] == pytest.approx(printed, abs=1e-6)


def test_tsb_path_of_a_short_series():
    """The same source (seen); the start is the first size and one over its position."""
    printed = [0.9, 0.81, 1.029, 0.9261, 1.246839, 1.1221551, 1.0099396, 0.9089456]
    printed += [1.0123723, 0.9111351]
    assert tsb(SHORT, 0.3, 0.1)[1:] == pytest.approx(printed, abs=1e-7)
