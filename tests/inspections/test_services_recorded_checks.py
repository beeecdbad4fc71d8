"""What an inspection has really recorded counts as done, and nothing else."""

from datetime import timedelta

import pytest

from fleetdoors.models import MaintenanceTask
from inspections.models import FollowUp, Inspection, JobOutcome, Measurement, TaskDone, Visit
from inspections.quantities import QUANTITIES, RIGHT, WRONG
from inspections.services.closing import SignOff, close_visit
from inspections.services.closing_rules import JobClosing
from inspections.services.inspecting import InspectionFacts, record_inspection
from inspections.services.recorded_checks import CHECKS_OF_TASK
from inspections.services.visits import VisitRefusedError
from tests.factories import NOW, make_reading, make_user, task
from tests.truck_factories import make_final_check, make_hold, make_open_visit, make_tick

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("recompute_requests")]
LATER = NOW + timedelta(minutes=10)
BALANCE = {
    "balance_quarter": 10.0,
    "balance_half": -20.0,
    "balance_three_quarters": 5.0,
    "drag": 80.0,
}


def visit_for(*codes: str) -> Visit:
    visit = make_open_visit()
    for code in codes:
        visit.jobs.create(kind="task", task=task(code))
    return visit


def inspected(visit: Visit, values: dict[str, float], *, all_right: bool = True) -> Inspection:
    return record_inspection(
        door=visit.door,
        facts=InspectionFacts(begun_at=LATER, inspector="Kim", all_as_it_should_be=all_right),
        values=values,
        entered_at=LATER,
        entered_by=visit.technician,
        visit=visit,
    )


def done(visit: Visit) -> set[str]:
    return set(visit.jobs.filter(outcome=JobOutcome.DONE).values_list("task__code", flat=True))


@pytest.mark.django_db
def test_every_check_is_a_quantity_and_every_task_in_the_catalogue() -> None:
    assert set().union(*CHECKS_OF_TASK.values()) <= set(QUANTITIES)
    known = set(MaintenanceTask.objects.values_list("code", flat=True))
    assert set(CHECKS_OF_TASK) <= known


def test_all_as_it_should_be_records_each_point_and_does_the_tasks_it_covers() -> None:
    visit = visit_for("REV", "LFT", "COI", "BAL", "ELE", "LUB")
    inspection = inspected(visit, {})
    looked_at = {code for code, each in QUANTITIES.items() if each.grades}
    rows = inspection.measurements.all()
    assert {row.quantity for row in rows} == looked_at
    assert {row.value for row in rows} == {RIGHT}
    assert done(visit) == {"REV", "LFT"}
    assert TaskDone.objects.filter(done_at=LATER, done_by="Kim").count() == 2


def test_numbers_count_only_where_all_of_them_were_measured() -> None:
    visit = visit_for("BAL")
    inspected(visit, {"balance_half": -20.0, "drag": 80.0})
    assert done(visit) == set()
    record_inspection(
        door=visit.door,
        facts=InspectionFacts(
            begun_at=LATER + timedelta(minutes=5), inspector="Kim", all_as_it_should_be=True
        ),
        values=BALANCE,
        entered_at=LATER,
        entered_by=visit.technician,
        visit=visit,
    )
    assert done(visit) == {"BAL"}


def test_an_exception_is_checked_too_and_asks_for_more() -> None:
    visit = visit_for("BAL", "COI")
    inspected(visit, BALANCE | {"balance_half": -400.0})
    # The check was made, the adjustment was not; and a look re-coils no cable.
    assert done(visit) == {"BAL"}
    assert FollowUp.objects.open().get().task.code == "BAL"


def test_without_the_word_nothing_is_marked() -> None:
    visit = visit_for("BAL")
    inspected(visit, BALANCE, all_right=False)
    assert done(visit) == set()
    assert Measurement.objects.count() == len(BALANCE)


def test_what_needs_power_is_not_said_to_be_tried_on_a_door_that_must_not_run() -> None:
    visit = visit_for("REV", "LFT")
    make_hold(door=visit.door)
    inspection = inspected(visit, {})
    assert not inspection.measurements.filter(quantity="reverse_function").exists()
    assert done(visit) == {"LFT"}


def test_nor_where_the_look_itself_found_a_spring_broken() -> None:
    visit = visit_for("REV")
    inspection = inspected(visit, {"spring": WRONG})
    assert not inspection.measurements.filter(quantity="reverse_function").exists()
    assert done(visit) == set()


def test_a_measurement_carries_the_cycles_of_the_record() -> None:
    visit = make_open_visit()
    make_reading(door=visit.door, counter_value=41_000, read_at=LATER)
    inspected(visit, {"drag": 80.0}, all_right=False)
    assert Measurement.objects.get().at_cycles == 41_000


def closed(visit: Visit, outcome: str, reason: str = "") -> Visit:
    make_final_check(visit=visit)
    for tick in ("chocks", "clear_opening", "isolation", "tools"):
        make_tick(visit=visit, tick=tick)
    closings = [JobClosing(job=job, outcome=outcome, reason=reason) for job in visit.jobs.all()]
    end = LATER + timedelta(hours=1)
    sign_off = SignOff(signed_by="Kim", closed_at=end, entered_at=end, entered_by=make_user())
    return close_visit(visit=visit, closings=closings, sign_off=sign_off)


def test_closing_keeps_the_moment_of_the_inspection_and_adds_no_second_entry() -> None:
    visit = visit_for("LFT")
    inspected(visit, {})
    closed(visit, JobOutcome.DONE)
    job = visit.jobs.get()
    assert job.done_at == LATER
    assert TaskDone.objects.filter(task__code="LFT").count() == 1


def test_a_job_on_record_as_done_is_not_closed_as_not_done() -> None:
    visit = visit_for("LFT")
    inspected(visit, {})
    with pytest.raises(VisitRefusedError, match="on record as done"):
        closed(visit, JobOutcome.NOT_DONE, "no time")
    assert visit.jobs.get().outcome == JobOutcome.DONE
