"""The load run itself, at a size that says nothing of speed: that it measures what it says."""

from __future__ import annotations

import numpy as np
import pytest

from tests.bench.load import PAGES, main
from tests.bench.made_fleet import SECONDS_A_DAY, apart_in_time


def test_the_load_run_measures_every_page_while_a_recompute_runs(
    capsys: pytest.CaptureFixture[str],
) -> None:
    answers = main(["--doors", "400", "--readings", "10", "--seconds", "3"])
    assert {each.page for each in answers} == set(PAGES)
    assert {each.status for each in answers} == {200}
    said = capsys.readouterr().out
    assert "recompute of 40 doors" in said
    assert "recompute of 400 doors" in said
    assert "cost grows with the doors to the power" in said
    assert said.count("95th percentile") == len(PAGES)
    assert "import of 4,000 readings" in said


def test_no_door_is_read_twice_in_one_second() -> None:
    seconds = np.array([[10.2, 10.4, 10.9, 11.0, 40.0], [1.0, 2.0, 3.0, 4.0, 5.0]])
    apart = apart_in_time(seconds / SECONDS_A_DAY) * SECONDS_A_DAY
    assert np.floor(apart[0] + 1e-6).tolist() == [10, 11, 12, 13, 40]
    assert np.allclose(apart[1], seconds[1])
