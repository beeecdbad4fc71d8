"""Moving a fleet in time changes dates and moments by whole weeks and nothing else."""

import csv
from datetime import date, datetime, timedelta
from pathlib import Path

import pytest

from analytics.synthetic.archive import zip_folder
from analytics.synthetic.layout import TABLES
from analytics.synthetic.shift import (
    UnknownTableError,
    days_to_recent,
    latest_day,
    shift_folder,
)
from tests.analytics.synthetic.conftest import MadeFleet


def read(path: Path) -> list[list[str]]:
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.reader(file))


@pytest.mark.parametrize("days", [-700, 0, 154])
def test_every_date_moves_and_nothing_else(
    demo_fleet: MadeFleet, tmp_path: Path, days: int
) -> None:
    shift_folder(demo_fleet.folder, tmp_path / "moved", days)
    moved = changed = 0
    for path in sorted((tmp_path / "moved").iterdir()):
        before, after = read(demo_fleet.folder / path.name), read(path)
        assert before[0] == after[0]
        assert len(before) == len(after)
        for old, new in zip(before[1:], after[1:], strict=True):
            for name, was, now in zip(before[0], old, new, strict=True):
                looks_like_time = was[4:5] == "-" and was[7:8] == "-" and len(was) in (10, 16)
                if not looks_like_time:
                    assert was == now, (path.name, name)
                    continue
                step = datetime.fromisoformat(now) - datetime.fromisoformat(was)
                assert step == timedelta(days), (path.name, name)
                assert len(was) == len(now)
                moved += 1
                changed += was != now
    assert moved > 40_000
    assert changed == (moved if days else 0)


def test_tables_without_time_are_copied_byte_for_byte(
    demo_fleet: MadeFleet, tmp_path: Path
) -> None:
    shift_folder(demo_fleet.folder, tmp_path / "moved", 7)
    for table in ("depots", "door_models", "parts"):
        name = f"{table}.csv"
        assert (tmp_path / "moved" / name).read_bytes() == (demo_fleet.folder / name).read_bytes()


def test_zip_and_folder_give_the_same(demo_fleet: MadeFleet, tmp_path: Path) -> None:
    zip_folder(demo_fleet.folder, tmp_path / "fleet.zip")
    shift_folder(tmp_path / "fleet.zip", tmp_path / "a", 14)
    shift_folder(demo_fleet.folder, tmp_path / "b", 14)
    names = [path.name for path in sorted((tmp_path / "a").iterdir())]
    assert names == [f"{table}.csv" for table in sorted(TABLES)]
    for name in names:
        assert (tmp_path / "a" / name).read_bytes() == (tmp_path / "b" / name).read_bytes()
    assert latest_day(tmp_path / "fleet.zip") == latest_day(demo_fleet.folder)


def test_latest_day_is_the_record_s_last(demo_fleet: MadeFleet) -> None:
    until = demo_fleet.plan.until
    assert until - timedelta(1) <= latest_day(demo_fleet.folder) <= until


def test_recent_means_one_to_seven_days_ago() -> None:
    latest = date(2026, 6, 26)
    for ahead in range(-400, 400):
        today = latest + timedelta(ahead)
        days = days_to_recent(latest, today)
        assert days % 7 == 0
        assert 1 <= (today - (latest + timedelta(days))).days <= 7


def test_part_of_a_week_is_refused(demo_fleet: MadeFleet, tmp_path: Path) -> None:
    with pytest.raises(ValueError, match="multiple of 7 to keep weekdays; 10 is not"):
        shift_folder(demo_fleet.folder, tmp_path / "moved", 10)


def test_unknown_column_is_refused(tmp_path: Path) -> None:
    (tmp_path / "trucks.csv").write_text("truck,seen_on\nT1,2026-01-01\n")
    with pytest.raises(UnknownTableError, match=r"trucks\.seen_on must be a column"):
        shift_folder(tmp_path, tmp_path / "moved", 7)
