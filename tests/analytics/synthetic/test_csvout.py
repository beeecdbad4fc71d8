"""Columns written side by side read back the same with the standard library's csv."""

import csv
from pathlib import Path

import numpy as np
import pytest

from analytics.synthetic.csvout import CsvTable


def test_mixed_columns_read_back(tmp_path: Path) -> None:
    names = ["plain", 'with "quotes"', "with, comma", "", "Größe", "two\nlines"]
    numbers = [0, 7, 10, 99_999, -1, 123_456_789_012]
    costs = [1.2, 165.0, float("nan"), 0.0001, 2e6, 0.5]
    moments = np.array(["2026-03-01T07:40", "NaT"] * 3, dtype="datetime64[m]")
    columns = {"name": "text", "many": "int", "cost": "number", "at": "moment", "on": "date"}
    with CsvTable(tmp_path / "t.csv", columns) as table:
        table.append(
            {
                "name": np.array(names),
                "many": np.array(numbers),
                "cost": np.array(costs),
                "at": moments,
                "on": moments.astype("datetime64[D]"),
            }
        )
    with (tmp_path / "t.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert [row["name"] for row in rows] == names
    assert [row["many"] for row in rows] == [str(n) if n >= 0 else "" for n in numbers]
    assert [row["cost"] for row in rows] == ["1.2", "165", "", "0.0001", "2000000", "0.5"]
    assert [row["at"] for row in rows] == ["2026-03-01T07:40", ""] * 3
    assert [row["on"] for row in rows] == ["2026-03-01", ""] * 3


def test_blocks_follow_each_other_under_one_header(tmp_path: Path) -> None:
    with CsvTable(tmp_path / "t.csv", {"n": "int"}) as table:
        for start in (0, 100, 100):
            table.append({"n": np.arange(start, 101)})
    lines = (tmp_path / "t.csv").read_text().splitlines()
    assert lines == ["n", *(str(n) for n in range(101)), "100", "100"]
    assert table.rows == 103


def test_a_table_without_rows_makes_no_file(tmp_path: Path) -> None:
    with CsvTable(tmp_path / "t.csv", {"n": "int"}) as table:
        table.append({"n": np.arange(0)})
    assert list(tmp_path.iterdir()) == []


def test_missing_column_is_refused(tmp_path: Path) -> None:
    with (
        CsvTable(tmp_path / "t.csv", {"n": "int", "m": "int"}) as table,
        pytest.raises(ValueError, match=r"t\.csv needs exactly the columns \['m', 'n'\]"),
    ):
        table.append({"n": np.arange(3)})
