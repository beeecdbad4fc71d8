"""Bounds between failures (NIST/SEMATECH e-Handbook 8.4.5.1) and the slope of failures (8.4.5.2).

Sources and how each value is known stand in test_mcbf_nist.py and test_power_law_published.py.
"""

import numpy as np
import pytest

from tests.published.imported_record import Unit, ask, import_tables, tables_of
from tests.published.published_data import load
from tests.published.test_mcbf_nist import RECALLED, WORKED_OUT

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize("failures", [1, 2, 10])
def test_factors_of_the_mean(tmp_path, failures):
    units = [Unit(4_000, tuple(range(100, 100 + failures))), Unit(8_345)]
    import_tables(tmp_path / "fleet", **tables_of(units))
    mean = 12_345 / failures
    rows = [each for each in RECALLED + WORKED_OUT if each[1] == failures]
    assert rows
    for confidence, _, lower, upper in rows:
        [row] = ask("mcbf", f"--confidence={confidence}")
        assert (row["cycles"], row["failures"]) == (12_345, failures)
        assert row["mcbf"] == pytest.approx(mean)
        assert row["lower"] / mean == pytest.approx(lower, abs=1.01e-4)
        assert row["upper"] / mean == pytest.approx(upper, abs=1.01e-4)
        assert row["bound"] == "two-sided"


def test_no_failure_gives_one_lower_bound(tmp_path):
    import_tables(tmp_path / "fleet", **tables_of([Unit(60_000), Unit(40_000)]))
    [row] = ask("mcbf")
    assert row["lower"] == pytest.approx(100_000 / -np.log(0.1))
    assert (row["bound"], row["mcbf"], row["upper"]) == ("lower-only", None, None)


def test_slope_of_the_case_study(tmp_path):
    data = load("power_law")["nist"]
    import_tables(tmp_path / "fleet", **tables_of([Unit(data["T"], tuple(data["failure_times"]))]))
    [row] = ask("trend")
    assert row["slope_unbiased"] == pytest.approx(0.483506, abs=5e-7)
    assert row["slope"] == pytest.approx(0.483506 * 10 / 9, abs=5e-7)
    assert (row["failures"], row["degrees_of_freedom"]) == (10, 20)
