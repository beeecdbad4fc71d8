"""Published lives, imported as fitted parts and asked for as figures.

Sources and how each value is known stand in test_weibull_published.py and
test_kaplan_meier_published.py.
"""

import pytest

from tests.published.imported_record import Unit, ask, import_tables, lives_of, tables_of
from tests.published.published_data import load

pytestmark = pytest.mark.django_db


def import_lives(folder, ages: list[int], failed: list[bool], entry: list[int] | None = None):
    units = [Unit(age) for age in ages]
    import_tables(folder, **tables_of(units), fitments=lives_of(ages, failed, entry))


def test_nist_ten_failures_of_twenty(tmp_path):
    """NIST/SEMATECH e-Handbook 8.4.1.3 (seen); standard errors worked out with another tool."""
    data = load("nist_ten_of_twenty")
    ages = data["failures"] + data["censored"]
    import_lives(tmp_path / "lives", ages, [True] * 10 + [False] * 10)
    [row] = ask("life", "--component=converter")
    assert (row["lives"], row["failures"], row["suspended"]) == (20, 10, 10)
    assert row["shape"] == pytest.approx(1.7208, abs=5e-5)
    assert row["scale_cycles"] == pytest.approx(606.528, abs=1e-3)
    assert row["loglik"] == pytest.approx(-75.135, abs=5e-4)
    assert row["shape_se"] == pytest.approx(0.50215, abs=1e-5)
    assert row["scale_se"] == pytest.approx(124.911, abs=1e-3)
    assert row["shape_lower"] < row["shape_median"] < row["shape_upper"]


def test_diesel_generator_fans(tmp_path):
    """Nelson (1982), p. 133; the answer 1.058 and 26,297 recalled."""
    data = load("diesel_fans")
    ages = [round(hours) for hours in data["hours"]]
    import_lives(tmp_path / "lives", ages, [each == 1 for each in data["status"]])
    [row] = ask("life")
    assert row["shape"] == pytest.approx(1.058, abs=5e-4)
    assert row["scale_cycles"] == pytest.approx(26_297, abs=0.5)
    assert row["loglik"] == pytest.approx(-135.15272, abs=1e-5)


def test_leukaemia_maintained_arm(tmp_path):
    """Miller (1981); printed output in the tests of R's survival package (seen)."""
    data = load("aml_maintained")
    import_lives(tmp_path / "lives", data["time"], [each == 1 for each in data["status"]])
    rows = ask("survival", "--component=converter", "--confidence=0.95")
    assert [row["at_cycles"] for row in rows] == [9, 13, 18, 23, 31, 34, 48]
    assert [row["at_risk"] for row in rows] == [11, 10, 8, 7, 5, 4, 2]
    printed = [0.909, 0.818, 0.716, 0.614, 0.491, 0.368, 0.184]
    assert [row["survival"] for row in rows] == pytest.approx(printed, abs=5.1e-4)
    printed = [0.7541, 0.6192, 0.4884, 0.3769, 0.2549, 0.1549, 0.0359]
    assert [row["lower"] for row in rows] == pytest.approx(printed, abs=5.1e-5)


def test_five_units_with_delayed_entry(tmp_path):
    """A test of the lifelines package that quotes R's survfit (seen)."""
    import_lives(tmp_path / "lives", [2, 10, 5, 4, 3], [True] * 5, [1, 2, 4, 0, 0])
    rows = ask("survival", "--component=converter")
    assert [row["at_risk"] for row in rows] == [3, 3, 2, 2, 1]
    printed = [0.667, 0.444, 0.222, 0.111, 0.0]
    assert [row["survival"] for row in rows] == pytest.approx(printed, abs=5.1e-4)
