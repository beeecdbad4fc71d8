"""The load run itself, at a size that says nothing of speed: that it measures what it says."""

from __future__ import annotations

import pytest

from tests.bench.load import PAGES, main


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
