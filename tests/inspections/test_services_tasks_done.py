"""Work done is kept once, and corrected by a new row."""

from datetime import timedelta

import pytest

from fleetdoors.models import DoorUnit
from inspections.models import TaskDone
from inspections.services.corrections import CorrectionRefusedError
from inspections.services.tasks_done import (
    TaskDoneRefusedError,
    WorkDone,
    correct_task_done,
    record_task_done,
)
from tests.factories import NOW, make_door, make_task_done, make_user, task

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("recompute_requests")]
LATER = NOW + timedelta(hours=1)


def test_record_task_done_keeps_what_when_and_who() -> None:
    door, person = make_door(), make_user()
    work = WorkDone(task("LUB"), NOW, at_cycles=5_010, done_by="Kim")
    done = record_task_done(door=door, work=work, entered_at=LATER, entered_by=person)
    kept = TaskDone.objects.get(pk=done.pk)
    assert {name: getattr(kept, name) for name in vars(work)} == vars(work)
    assert (kept.entered_at, kept.entered_by) == (LATER, person)
    assert DoorUnit.objects.get(pk=door.pk).revision == 1


def test_record_task_done_twice_is_one() -> None:
    door, work = make_door(), WorkDone(task("LUB"), NOW)
    first = record_task_done(door=door, work=work, entered_at=NOW)
    assert record_task_done(door=door, work=work, entered_at=LATER) == first
    assert TaskDone.objects.count() == 1


@pytest.mark.parametrize(
    ("ahead", "at_cycles", "field"),
    [(timedelta(days=2), None, "done_at"), (timedelta(0), 999, "at_cycles")],
)
def test_record_task_done_refuses_what_cannot_have_been(
    ahead: timedelta, at_cycles: int | None, field: str
) -> None:
    door = make_door(opening_cycles=1_000)
    work = WorkDone(task("LUB"), NOW + ahead, at_cycles=at_cycles)
    with pytest.raises(TaskDoneRefusedError) as refused:
        record_task_done(door=door, work=work, entered_at=NOW)
    assert refused.value.field == field
    assert not TaskDone.objects.exists()


def test_correct_task_done_puts_a_new_row_in_its_place() -> None:
    old = make_task_done(door=make_door(), task=task("LUB"))
    new = correct_task_done(
        task_done=old, work=WorkDone(task("COI"), NOW), reason="other task", entered_at=LATER
    )
    old.refresh_from_db()
    assert (old.task.code, old.superseded_at) == ("LUB", LATER)
    assert (new.task.code, new.corrects, new.reason) == ("COI", old, "other task")


@pytest.mark.parametrize("reason", ["", "second try"])
def test_correct_task_done_refuses_without_reason_or_twice(reason: str) -> None:
    old = make_task_done(door=make_door(), task=task("LUB"))
    work = WorkDone(task("COI"), NOW)
    if reason:
        correct_task_done(task_done=old, work=work, reason="first", entered_at=LATER)
    before = TaskDone.objects.count()
    with pytest.raises(CorrectionRefusedError):
        correct_task_done(task_done=old, work=work, reason=reason, entered_at=LATER)
    assert TaskDone.objects.count() == before
