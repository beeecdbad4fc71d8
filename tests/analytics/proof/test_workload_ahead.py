"""A made fleet's year: the range printed before, and what its simulation then needs."""

from __future__ import annotations

import sys

import numpy as np
import pytest

from analytics.proof import workload
from analytics.proof.claim import Floats


def test_the_year_lies_in_the_range_printed_before(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Seed 71; both are printed. With the true cycles known, the two ways of counting agree."""
    exact: list[Floats] = []
    foreseen = workload._foreseen

    def and_exactly(fleet, followed, door, last_day, paths):
        begins = workload.DAYS + 7 * np.arange(workload.WEEKS + 1)
        truth = fleet.cycles[door][:, begins].astype(float)
        known = np.broadcast_to(truth, paths.shape)
        exact.append(foreseen(fleet, followed, door, last_day, known)[0])
        return foreseen(fleet, followed, door, last_day, paths)

    monkeypatch.setattr(workload, "_foreseen", and_exactly)
    year = workload.year_ahead(71)
    needed = year.needed.sum() / 60
    lower, upper = float(year.total.lower) / 60, float(year.total.upper) / 60
    with capsys.disabled():
        sys.stdout.write(
            f"\nprinted {lower:,.0f} to {upper:,.0f} h, 8 times in 10; needed {needed:,.0f} h\n"
        )
    assert lower <= needed <= upper
    assert exact[0].sum() == pytest.approx(year.needed.sum(), rel=0.005)
