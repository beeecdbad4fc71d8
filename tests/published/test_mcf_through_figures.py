"""Valve seats of 41 diesel engines (Nelson 1995), imported as a fleet and asked for as figures.

The printed table is that of tests/published/test_mcf_valve_seats.py, which names its source.
"""

import numpy as np
import pytest

from tests.published.imported_record import Unit, ask, import_tables, tables_of
from tests.published.published_data import load

pytestmark = pytest.mark.django_db


def engines() -> list[Unit]:
    data = load("valve_seats")
    number, day, event = (np.array(data[name]) for name in ("id", "days", "event"))
    return [
        Unit(int(day[number == each].max()), tuple(day[(number == each) & (event == 1)].tolist()))
        for each in np.unique(number)
    ]


def test_curve_at_every_printed_row(tmp_path):
    import_tables(tmp_path / "valves", **tables_of(engines()))
    curve = {row["at_cycles"]: row for row in ask("mcf")}
    assert len(curve) == 46
    for day, at_risk, mcf, error in load("valve_seats")["table"]:
        row = curve[day]
        assert row["at_risk"] == at_risk
        assert row["mcf"] == pytest.approx(mcf, abs=5.1e-4)
        assert row["standard_error"] == pytest.approx(error, abs=5.1e-4)
        assert 0 < row["lower"] < row["mcf"] < row["upper"]
    assert sum(row["failures"] for row in curve.values()) == 48


def test_the_same_engines_between_failures(tmp_path):
    import_tables(tmp_path / "valves", **tables_of(engines()))
    [row] = ask("mcbf")
    assert (row["doors"], row["failures"]) == (41, 48)
    assert row["cycles"] == sum(engine.end_cycles for engine in engines())
