"""A due date worked out by hand: salt halves the interval, the calendar comes first.

Last done at 12,000 cycles on day 0; 5,000 cycles or 90 days; factor 0.5; 40 cycles a day.
Due at 14,500 cycles, reached on day 62.5; 45 days are over on day 45 (plain arithmetic).
"""

from datetime import date, timedelta

import pytest

from tests.published.imported_record import ask, import_tables

DAY_0 = date(2026, 1, 10)
AS_OF = DAY_0 + timedelta(days=1)
pytestmark = pytest.mark.django_db


def import_door(folder, setting: str) -> None:
    """One door that runs 40 cycles a day, every day of the week, and 12,000 by day 0."""
    begun = DAY_0 - timedelta(days=300)
    import_tables(
        folder,
        depots=[{"depot": "SALT", "timezone": "UTC", "setting": setting}],
        trucks=[{"truck": "T1", "depot": "SALT"}],
        door_models=[{"door_model": "M"}],
        doors=[
            {"door": "D1", "door_model": "M", "truck": "T1", "mounted_on": begun,
             "record_from": begun}
        ],
        readings=[
            {"door": "D1", "read_at": f"{begun + timedelta(days=7 * k)}T00:00",
             "counter_value": 280 * k}
            for k in range(1, 43)
        ],
        tasks_done=[
            {"door": "D1", "task": "LUB", "done_at": f"{DAY_0}T00:00", "at_cycles": 12_000}
        ],
    )  # fmt: skip


def test_the_calendar_governs_in_salt(tmp_path):
    import_door(tmp_path / "salt", "salt")
    [row] = ask("due", "--task=LUB", f"--as-of={AS_OF}")
    assert (row["interval_cycles"], row["interval_days"]) == (2_500, 45)
    assert (row["last_done_on"], row["last_done_cycles"]) == (str(DAY_0), 12_000)
    assert row["due_cycles"] == 14_500
    assert row["due_on"] == str(DAY_0 + timedelta(days=45))
    assert (row["governed_by"], row["state"]) == ("days", "later")
    # The interval is that of the cycles alone: day 62.5, give or take.
    early, late = (date.fromisoformat(row[key]) for key in ("due_on_early", "due_on_late"))
    assert early <= DAY_0 + timedelta(days=62.5) <= late
    assert row["probability_within"] < 0.1


def test_the_whole_interval_counts_elsewhere(tmp_path):
    import_door(tmp_path / "normal", "normal")
    [row] = ask("due", "--task=LUB", f"--as-of={AS_OF}")
    assert (row["interval_cycles"], row["interval_days"]) == (5_000, 90)
    assert row["due_cycles"] == 17_000
    assert row["due_on"] == str(DAY_0 + timedelta(days=90))


def test_late_in_share_of_the_interval(tmp_path):
    """A 30-day task 6 days late has used 120 % of its interval."""
    import_door(tmp_path / "late", "normal")
    [row] = ask("due", "--task=REV", f"--as-of={DAY_0 - timedelta(days=264)}")
    assert row["due_on"] == str(DAY_0 - timedelta(days=270))
    assert row["state"] == "late"
