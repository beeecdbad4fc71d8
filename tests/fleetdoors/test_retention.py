"""How long records are kept: worked cases, and refusals.

The periods of 49 CFR 396.3(c) and of the British guide are from memory.
"""

from __future__ import annotations

from datetime import date

import pytest

from fleetdoors.retention import (
    LAW,
    RecordClass,
    RuleSet,
    StillInTheFleetError,
    keep_until,
    months_after,
)


def test_a_british_drivers_report_is_kept_fifteen_months_from_its_own_date() -> None:
    # Worked by hand: 1 December 2025 and 15 months; the truck left on 31 January 2026.
    kept = keep_until(
        RuleSet.GB,
        RecordClass.DEFECT,
        recorded_on=date(2025, 12, 1),
        left_on=date(2026, 1, 31),
    )
    assert kept == date(2027, 3, 1)


def test_american_work_is_kept_a_year_and_six_months_after_the_truck_left() -> None:
    # Worked by hand: the later of 1 February 2026 and 1 June 2026.
    facts = {"recorded_on": date(2025, 2, 1), "left_on": date(2025, 12, 1)}
    by_law = keep_until(RuleSet.US, RecordClass.WORK, **facts, with_shipped=False)
    assert by_law == date(2026, 6, 1)
    # With what is shipped: 24 months after it left.
    assert keep_until(RuleSet.US, RecordClass.WORK, **facts) == date(2027, 12, 1)


@pytest.mark.parametrize("rule_set", RuleSet)
@pytest.mark.parametrize("record_class", RecordClass)
def test_a_truck_in_the_fleet_keeps_everything(rule_set: str, record_class: str) -> None:
    with pytest.raises(StillInTheFleetError, match="in the fleet"):
        keep_until(rule_set, record_class, recorded_on=date(2001, 1, 1), left_on=None)


@pytest.mark.parametrize("rule_set", RuleSet)
@pytest.mark.parametrize("record_class", RecordClass)
def test_what_is_shipped_never_shortens_the_law(rule_set: str, record_class: str) -> None:
    facts = {"recorded_on": date(2026, 5, 31), "left_on": date(2026, 2, 28)}
    by_law = keep_until(rule_set, record_class, **facts, with_shipped=False)
    assert keep_until(rule_set, record_class, **facts) >= by_law >= facts["left_on"]


def test_every_rule_set_says_something_of_every_record() -> None:
    assert {name: set(periods) for name, periods in LAW.items()} == {
        name: set(RecordClass) for name in RuleSet
    }


@pytest.mark.parametrize(
    ("day", "months", "then"),
    [
        (date(2026, 1, 31), 1, date(2026, 2, 28)),
        (date(2023, 11, 30), 3, date(2024, 2, 29)),
        (date(2026, 12, 15), 1, date(2027, 1, 15)),
        (date(2026, 3, 1), 0, date(2026, 3, 1)),
    ],
)
def test_months_end_where_the_month_does(day: date, months: int, then: date) -> None:
    assert months_after(day, months) == then
