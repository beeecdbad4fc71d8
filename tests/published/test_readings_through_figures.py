"""Counter readings worked out by hand: a counter that passed its last digit, two digits swapped.

Five digits, 99,640 then 00,210: 570 cycles (plain arithmetic). 48,172 read where about 41,872 was
due: digits two and three changed places, and the difference 6,300 divides by 9, as such slips do.
"""

from datetime import date, timedelta

import pytest

from tests.published.imported_record import ask, import_tables

BEGUN = date(2025, 3, 3)
pytestmark = pytest.mark.django_db


def import_door(folder, readings: list[int], *, opening: int, digits: int) -> None:
    """One door read every seventh day."""
    import_tables(
        folder,
        depots=[{"depot": "D", "timezone": "UTC"}],
        trucks=[{"truck": "T1", "depot": "D"}],
        door_models=[{"door_model": "M", "counter_digits": digits}],
        doors=[
            {"door": "D1", "door_model": "M", "truck": "T1", "mounted_on": BEGUN,
             "record_from": BEGUN, "opening_cycles": opening}
        ],
        readings=[
            {"door": "D1", "read_at": f"{BEGUN + timedelta(days=7 * (k + 1))}T00:00",
             "counter_value": value}
            for k, value in enumerate(readings)
        ],
    )  # fmt: skip


def test_a_counter_that_passed_its_last_digit_runs_on(tmp_path):
    before = list(range(99_640 - 560 * 20, 99_641, 560))
    import_door(tmp_path / "fleet", [*before, 210], opening=99_640 - 560 * 21, digits=5)
    as_of = BEGUN + timedelta(days=7 * 22)
    assert ask("suspects", f"--as-of={as_of + timedelta(days=1)}") == []
    [row] = ask("usage", "--door=D1", f"--as-of={as_of + timedelta(days=1)}")
    assert row["last_read_on"] == str(as_of)
    assert row["cycles_per_day"] == pytest.approx(80, rel=0.05)
    assert row["cycles_now"] == pytest.approx(99_640 + 570 + row["cycles_per_day"], rel=0.002)


def test_two_digits_that_changed_places_are_put_right(tmp_path):
    before = list(range(41_872 - 280 * 20, 41_872, 280))
    import_door(tmp_path / "fleet", [*before, 48_172], opening=41_872 - 280 * 21, digits=6)
    [row] = ask("suspects", f"--as-of={BEGUN + timedelta(days=7 * 21 + 1)}")
    assert (row["door"], row["counter_value"], row["status"]) == ("D1", 48_172, "held")
    assert row["read_at"] == f"{BEGUN + timedelta(days=7 * 21)}T00:00"
    assert (row["cause"], row["suggestion"]) == ("digits_swapped", 41_872)
    assert row["suggestion_probability"] > 0.9
