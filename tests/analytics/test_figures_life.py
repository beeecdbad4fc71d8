"""Lives of fitted parts: when each ended, from when it was seen, and which are left out."""

from __future__ import annotations

from datetime import timedelta

import pytest

from tests import factories as make
from tests.analytics.asking import ask

pytestmark = pytest.mark.django_db
COMPONENT = "converter"


def fit(door, **facts):
    return make.make_fitment(door=door, component=make.component(COMPONENT), **facts)


def read_door(cycles: int, **facts):
    door = make.make_door(**facts)
    make.make_reading(door=door, counter_value=cycles)
    return door


def survival() -> list[tuple[float, float]]:
    return [
        (row["at_cycles"], row["at_risk"]) for row in ask("survival", f"--component={COMPONENT}")
    ]


def removed(cycles: int | None, removal: str = "failed"):
    day = (make.NOW - timedelta(days=30)).date()
    return {"removed_on": day, "removed_at_cycles": cycles, "removal": removal}


def test_failed_suspended_and_still_fitted():
    fit(read_door(9_000), **removed(4_000))
    fit(read_door(9_000), **removed(6_000, "preventive"))
    fit(read_door(9_000), **removed(5_000, "other"))
    fit(read_door(9_000))
    [row] = ask("life")
    assert (row["component"], row["lives"], row["failures"], row["suspended"]) == (
        COMPONENT, 4, 1, 3,
    )  # fmt: skip
    assert survival() == [(4_000, 4)]
    assert (row["shape"], row["evidence"]) == (None, "mostly prior")
    assert row["b10_lower"] < row["b10_median"] < row["b10_upper"]


def test_age_is_counted_from_fitting():
    fit(read_door(30_000), fitted_at_cycles=20_000, **removed(26_000))
    assert survival() == [(6_000, 1)]


def test_a_life_seen_late_is_at_risk_from_then_on():
    fit(read_door(9_000), **removed(3_000))
    fit(read_door(20_000), observed_from_cycles=5_000, **removed(8_000))
    assert survival() == [(3_000, 1), (8_000, 1)]


def test_a_part_of_unknown_age_is_left_out():
    fit(read_door(9_000), fitted_at_cycles=None, **removed(4_000))
    fit(read_door(9_000), fitted_at_cycles=4_000)
    [row] = ask("life")
    assert (row["lives"], row["failures"]) == (1, 0)


def test_a_removal_without_cycles_lies_between_two_readings():
    door = make.make_door(record_from=(make.NOW - timedelta(days=100)).date())
    make.make_readings(
        door=door,
        values=[1_000, 2_000, 3_000],
        first_at=make.NOW - timedelta(days=75),
        days_between=25,
    )
    fit(door, fitted_on=door.record_from, **removed(None))
    # Taken off 30 days ago, between 1,000 (75 days ago) and 2,000 (50) and 3,000 (25 days ago).
    assert survival() == [(2_500, 1)]


def test_a_suspended_life_ends_where_the_doors_window_ends():
    door = read_door(5_000)
    make.make_fault(door=door, at_cycles=7_000)
    fit(door)
    fit(read_door(20_000), **removed(6_000))
    assert survival() == [(6_000, 2)]


def test_the_posterior_needs_no_failure_and_says_so():
    fit(read_door(9_000))
    [row] = ask("life")
    assert row["evidence"] == "mostly prior"
    assert row["shape"] is None
    assert row["b10_lower"] > 0


def test_one_component_is_asked_for():
    door = read_door(9_000)
    fit(door)
    make.make_fitment(door=door, component=make.component("fuse"))
    assert [row["component"] for row in ask("life")] == [COMPONENT, "fuse"]
    assert [row["component"] for row in ask("life", "--component=fuse")] == ["fuse"]


def test_interval_advice_follows_wear():
    for number in range(40):
        age = 18_000 + 200 * number
        fit(read_door(age + 10), **removed(age))
    options = (f"--component={COMPONENT}", "--cost-preventive=100", "--cost-failure=1000")
    [row] = ask("interval", *options)
    assert row["verdict"] == "advised"
    assert row["lower"] <= row["best_cycles"] <= row["upper"] < 22_000
    assert 0 < row["saving"] < 1
