"""Measurements and work on cables as arrays: what was known at a moment, in one query each."""

from __future__ import annotations

from datetime import date, datetime, timedelta

import numpy as np
import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from analytics.datasets import fetch_fleet
from analytics.datasets.cable_work import fetch_cable_work
from analytics.datasets.measurements import JUDGEMENTS, MeasurementRows, fetch_measurements
from fleetdoors.models import DoorUnit
from inspections.models import InspectionKind, Judgement, Repair
from tests.factories import (
    NOW,
    component,
    make_door,
    make_fault,
    make_fitment,
    make_task_done,
    task,
)
from tests.truck_factories import make_follow_up, make_inspection, make_measurement

pytestmark = pytest.mark.django_db


def days_ago(count: float) -> datetime:
    return NOW - timedelta(days=count)


def measured(as_of: date = NOW) -> MeasurementRows:
    return fetch_measurements(fetch_fleet(as_of).doors)


def test_rows_carry_their_limits_and_say_what_was_not_noted() -> None:
    door = make_door()
    new = make_inspection(door=door, kind=InspectionKind.COMMISSIONING, begun_at=days_ago(9))
    make_measurement(
        inspection=new, quantity="motor_end", value=30.0, measured_at=days_ago(9), amps=11.0,
        limit_low=29.0, near_low=29.5, judgement=Judgement.NEAR, at_cycles=700,
    )  # fmt: skip
    make_measurement(door=door, quantity="battery_rest", value=12.6, measured_at=days_ago(3))
    rows = measured()
    [motor], [battery] = rows.of("motor_end"), rows.of("battery_rest")
    assert (rows.value[motor], rows.amps[motor], rows.at_cycles[motor]) == (30.0, 11.0, 700.0)
    assert (rows.limit_low[motor], rows.near_low[motor]) == (29.0, 29.5)
    assert np.isnan([rows.limit_high[motor], rows.celsius[motor], rows.amps[battery]]).all()
    assert JUDGEMENTS[rows.judgement[motor]] == Judgement.NEAR
    assert rows.is_when_new.tolist() == [True, False]
    assert (rows.inspection[motor], rows.inspection[battery]) == (new.pk, -1)
    assert rows.day[battery] - rows.day[motor] == pytest.approx(6.0)


def test_measurements_stand_door_after_door_in_order_of_time() -> None:
    first, second = make_door(serial="A"), make_door(serial="B")
    for door, days, value in ((second, 5, 1.0), (first, 2, 2.0), (second, 8, 3.0), (first, 4, 4.0)):
        make_measurement(door=door, value=value, measured_at=days_ago(days))
    assert measured().value.tolist() == [4.0, 2.0, 3.0, 1.0]


def test_what_was_taken_or_entered_later_is_not_known_yet() -> None:
    door = make_door()
    make_measurement(door=door, value=1.0, measured_at=days_ago(30))
    late = make_measurement(door=door, value=2.0, measured_at=days_ago(29))
    late.entered_at = days_ago(5)
    late.save()
    make_measurement(door=door, value=3.0, measured_at=days_ago(4))
    assert measured(days_ago(10)).value.tolist() == [1.0]
    assert measured(days_ago(10).date()).value.tolist() == [1.0]
    assert measured().value.tolist() == [1.0, 2.0, 3.0]


def test_a_corrected_value_is_seen_as_it_stood_before() -> None:
    door = make_door()
    wrong = make_measurement(door=door, value=1.26, measured_at=days_ago(30))
    make_measurement(door=door, value=12.6, measured_at=days_ago(30), corrects=wrong)
    right = wrong.correction
    right.entered_at = wrong.superseded_at = days_ago(8)
    right.save()
    wrong.save()
    assert measured(days_ago(20)).value.tolist() == [1.26]
    assert measured().value.tolist() == [12.6]


def test_one_query_for_any_number_of_rows() -> None:
    door = make_door()
    counts = []
    for count in (2, 20):
        for number in range(count):
            make_measurement(door=door, measured_at=days_ago(count + number))
        doors = fetch_fleet(NOW).doors
        with CaptureQueriesContext(connection) as queries:
            fetch_measurements(doors)
        counts.append(len(queries))
    assert counts == [1, 1]


# Work after which the cable is another one


def cable_door() -> DoorUnit:
    """A door whose cable was fitted, repaired, and re-coiled because of a finding."""
    door = make_door()
    cable = component("coil_cable")
    make_fitment(door=door, component=cable, fitted_on=days_ago(90).date(), fitted_at_cycles=0)
    fault = make_fault(door=door, found_at=days_ago(61), component=cable)
    Repair.objects.create(fault=fault, repaired_at=days_ago(60), entered_at=days_ago(60))
    asked = make_follow_up(door=door, task_asked=task("COI"), opened_at=days_ago(31))
    asked.task_done = make_task_done(door=door, task=task("COI"), done_at=days_ago(30))
    asked.closed_at = asked.end_entered_at = days_ago(30)
    asked.save()
    return door


def work_ages(as_of: date = NOW) -> list[int]:
    work = fetch_cable_work(fetch_fleet(as_of))
    now = NOW.timestamp() / 86_400
    return [int(now - day) for day in work.day]


def test_a_new_cable_a_repair_and_a_re_coiling_on_a_finding_count() -> None:
    cable_door()
    assert work_ages() == [90, 60, 30]
    assert fetch_cable_work(fetch_fleet(NOW)).is_fitted.tolist() == [True, False, False]


def test_what_came_later_or_concerns_something_else_does_not_count() -> None:
    door = cable_door()
    # The look at the cable that is due each quarter, a motor's repair, a finding that was dropped.
    make_task_done(door=door, task=task("COI"), done_at=days_ago(12))
    motor = make_fault(door=door, found_at=days_ago(11), component=component("motor"))
    Repair.objects.create(fault=motor, repaired_at=days_ago(10), entered_at=days_ago(10))
    dropped = make_follow_up(door=door, task_asked=task("COI"), opened_at=days_ago(9))
    dropped.closed_at = dropped.end_entered_at = days_ago(8)
    dropped.closing_reason = "A new look found nothing"
    dropped.save()
    assert work_ages() == [90, 60, 30]
    assert work_ages(days_ago(45)) == [90, 60]
    assert work_ages(days_ago(75).date()) == [90]
