"""Due dates: from where each task counts, what shortens it, and what is said of it."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from fleetdoors.models import Depot, MaintenanceTask
from tests import factories as make
from tests.analytics.asking import ask

pytestmark = pytest.mark.django_db
TODAY = make.NOW.date()
AS_OF = f"--as-of={TODAY}"
BEGUN = TODAY - timedelta(days=300)


def door_at(cycles_per_week: int = 140, *, depot: Depot | None = None, **facts):
    """A door read every week up to yesterday."""
    door = make.make_door(depot=depot, record_from=BEGUN, **facts)
    make.make_readings(
        door=door,
        values=[cycles_per_week * k for k in range(1, 43)],
        first_at=make.NOW.replace(hour=0) - timedelta(days=293),
    )
    return door


def task_of(code: str, *options: str):
    [row] = ask("due", f"--task={code}", AS_OF, *options)
    return row


def done(door, code: str, days_ago: float, at_cycles: int | None = None) -> None:
    make.make_task_done(
        door=door,
        task=make.task(code),
        done_at=make.NOW.replace(hour=8) - timedelta(days=days_ago),
        at_cycles=at_cycles,
    )


def test_every_door_in_service_and_listed_task_has_a_row():
    door_at()
    door_at(retired_on=TODAY - timedelta(days=5))
    rows = ask("due", AS_OF)
    listed = MaintenanceTask.objects.on_due_lists().values_list("code", flat=True)
    assert [row["task"] for row in rows] == list(listed)


def test_a_task_never_done_counts_from_the_beginning_of_the_record():
    door_at(opening_cycles=0)
    row = task_of("SEN")
    assert (row["last_done_on"], row["last_done_cycles"]) == (None, None)
    assert row["due_cycles"] == 10_000
    assert row["due_on"] == str(BEGUN + timedelta(days=180))
    assert "Never done on record" in row["reason"]


def test_a_larger_task_resets_those_it_contains():
    done(door_at(), "ANN", 20, 5_000)
    for code in ("LUB", "BAL", "SEN"):
        row = task_of(code)
        assert row["last_done_on"] == str(TODAY - timedelta(days=20))
    assert task_of("REN")["last_done_on"] is None


def test_the_latest_of_both_counts():
    door = door_at()
    done(door, "ANN", 60, 4_000)
    done(door, "LUB", 10, 5_500)
    assert task_of("LUB")["last_done_cycles"] == 5_500
    assert task_of("BAL")["last_done_cycles"] == 4_000


def test_cycles_of_a_task_are_found_between_readings():
    done(door_at(), "LUB", 13)
    assert task_of("LUB")["last_done_cycles"] == pytest.approx(140 * 41 + 140 * 8 / 24 / 7, abs=1)


def test_after_the_last_reading_cycles_run_on():
    door = make.make_door(record_from=BEGUN)
    make.make_readings(
        door=door,
        values=[140 * k for k in range(1, 40)],
        first_at=make.NOW.replace(hour=0) - timedelta(days=293),
    )
    done(door, "LUB", 6)
    row = task_of("LUB")
    assert row["last_done_cycles"] == pytest.approx(140 * 39 + 20 * 14, rel=0.03)
    assert row["due_cycles"] == pytest.approx(row["last_done_cycles"] + 5_000)


@pytest.mark.parametrize(
    ("setting", "as_of", "interval"),
    [
        ("normal", TODAY, 5_000),
        ("salt", TODAY, 2_500),
        ("salt", date(2026, 10, 31), 5_000),
        ("salt+coast", TODAY, 2_000),
        ("salt+dust", TODAY, 2_000),  # 0.5 x 0.5 stops at the floor of 0.4
        ("dust", date(2026, 10, 31), 2_500),
    ],
)
def test_the_depots_setting_shortens_the_interval(setting, as_of, interval):
    door_at(depot=make.make_depot(setting=setting))
    [row] = ask("due", "--task=LUB", f"--as-of={as_of}")
    assert row["interval_cycles"] == pytest.approx(interval)
    assert row["interval_days"] == pytest.approx(90 * interval / 5_000)
    assert ("Interval shortened by" in row["reason"]) == (interval < 5_000)


def test_high_duty_is_read_from_the_record():
    door_at(cycles_per_week=350)
    row = task_of("LUB")
    assert row["interval_cycles"] == pytest.approx(3_500)
    assert "× 0.7" in row["reason"]


@pytest.mark.parametrize(("knocks", "factor"), [(2, 1.0), (3, 0.9)])
def test_rough_use_is_three_knocks_within_a_year(knocks, factor):
    door = door_at()
    for number in range(knocks):
        make.make_fault(door=door, found_at=make.NOW - timedelta(days=20 + number), mode="FM31")
    make.make_fault(door=door, found_at=make.NOW - timedelta(days=400), mode="FM33")
    assert task_of("LUB")["interval_cycles"] == pytest.approx(5_000 * factor)


def test_spring_renewal_is_a_share_of_the_class():
    door_at(door_model=make.make_door_model(spring_class_cycles=20_000))
    row = task_of("REN")
    assert (row["interval_cycles"], row["interval_days"]) == (10_000, None)
    assert row["governed_by"] == "cycles"


def test_without_a_class_nothing_is_known_of_the_springs():
    door_at()
    row = task_of("REN")
    assert (row["state"], row["due_on"], row["governed_by"]) == ("unknown", None, None)
    assert row["reason"] == "No interval is known for this task on this door."


def test_within_gives_those_days_only():
    done(door_at(), "ANN", 80, 4_000)
    within = {row["task"] for row in ask("due", "--within=10", AS_OF)}
    assert {"LUB", "LFT", "COI", "REL"} <= within
    assert "BAL" not in within
    assert {"BAL"} <= {row["task"] for row in ask("due", "--within=120", AS_OF)}


def test_one_depot_is_asked_for():
    door_at(depot=make.make_depot(code="HERE"), serial="A")
    door_at(depot=make.make_depot(code="THERE"))
    rows = ask("due", "--depot=HERE", AS_OF)
    assert {(row["door"], row["depot"]) for row in rows} == {("A", "HERE")}


def test_states_around_the_day():
    door = door_at()
    done(door, "LUB", 80, 5_600)
    seen = []
    for days in (0, 2, 10, 15, 20):
        [row] = ask("due", "--task=LUB", f"--as-of={TODAY + timedelta(days=days)}")
        seen.append(row["state"])
    assert seen == ["later", "soon", "due", "due", "late"]


def test_the_interval_is_that_of_the_cycles():
    done(door_at(cycles_per_week=280), "LUB", 1, 11_700)
    row = task_of("LUB")
    assert row["due_on_early"] < row["due_on_late"]
    assert row["due_on"] == str(TODAY + timedelta(days=89))
    assert row["due_on_early"] > row["due_on"]


def test_a_door_in_store_is_listed_without_a_depot():
    make.make_loose_door(record_from=BEGUN)
    row = task_of("LUB")
    assert (row["truck"], row["depot"]) == (None, None)


def test_an_accepted_reading_is_the_counter_read():
    door = door_at()
    done(door, "CTR", days_ago=40)
    row = task_of("CTR")
    last_read = make.NOW.replace(hour=0) - timedelta(days=293) + timedelta(days=7 * 41)
    assert row["last_done_on"] == str(last_read.date())
    assert row["state"] == "later"


def test_a_range_beyond_the_horizon_is_unknown_not_cut_off():
    door_at(cycles_per_week=7)
    row = task_of("ANN")
    assert row["due_cycles"] == 25_000
    assert (row["due_on_early"], row["due_on_late"]) == (None, None)
    assert row["due_on"] is not None
