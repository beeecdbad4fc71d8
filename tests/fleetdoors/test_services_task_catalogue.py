"""Changing the catalogue: each rule, each refusal, and what is kept of what stood before."""

from __future__ import annotations

from datetime import timedelta

import pytest

from fleetdoors.models import MaintenanceTask, SeverityFactor, TaskChange, TaskKit
from fleetdoors.services.task_catalogue import (
    CatalogueError,
    ChangedSinceError,
    InACircleError,
    NothingChangedError,
    add_task,
    undo_change,
)
from fleetdoors.services.task_sheet import TaskSheet, sheet_of
from tests.catalogue_factories import alter, altered_sheet, make_kit
from tests.factories import NOW, make_door, make_part, make_user, task

pytestmark = pytest.mark.django_db
LATER = NOW + timedelta(hours=1)


def test_a_change_keeps_what_stood_before_with_who_when_and_why() -> None:
    person = make_user()
    before = sheet_of(task("BAL"))
    change = alter("BAL", by=person, reason="springs went slack", interval_days=120, minutes=12)
    assert (task("BAL").interval_days, task("BAL").minutes) == (120, 12)
    assert TaskSheet.from_json(change.before) == before
    assert (change.changed_by, change.changed_at, change.reason) == (
        person,
        NOW,
        "springs went slack",
    )
    assert TaskSheet.from_json(change.after).differs_in(before) == ("interval_days", "minutes")


def test_factors_kit_and_containment_are_written_whole() -> None:
    part = make_part(part_number="GREASE-1")
    make_kit(code="LUB", part=make_part(), quantity=9)
    alter(
        "LUB",
        by=make_user(),
        factors={"salt": 0.5, "dust": 0.6},
        kit={part.part_number: 2},
        contains=("REL",),
    )
    kept = dict(SeverityFactor.objects.filter(task=task("LUB")).values_list("condition", "factor"))
    assert kept == {"salt": 0.5, "dust": 0.6}
    assert list(TaskKit.objects.filter(task=task("LUB")).values_list("part", "quantity")) == [
        (part.pk, 2)
    ]
    assert sheet_of(task("LUB")).contains == ("REL",)


def test_a_change_makes_every_door_stale(django_capture_on_commit_callbacks) -> None:
    door = make_door()
    before = door.revision
    with django_capture_on_commit_callbacks() as asked:
        alter("BAL", by=make_user(), minutes=33)
    door.refresh_from_db()
    assert door.revision > before
    assert len(asked) == 1


def test_a_sheet_that_says_the_same_is_refused() -> None:
    with pytest.raises(NothingChangedError, match="says this already"):
        alter("BAL", by=make_user())
    assert not TaskChange.objects.exists()


def test_a_task_may_not_contain_itself_by_way_of_another() -> None:
    """The full inspection contains the balance check."""
    with pytest.raises(InACircleError, match="BAL would contain itself"):
        alter("BAL", by=make_user(), contains=("ANN",))
    assert not TaskChange.objects.exists()
    assert sheet_of(task("BAL")).contains == ()


def test_a_new_task_is_added_and_its_code_taken_once() -> None:
    sheet = altered_sheet(task("BAL"), name="Hinge pins")
    change = add_task(code="PIN", sheet=sheet, by=make_user(), at=NOW, reason="pins fell out")
    assert change.before is None
    assert sheet_of(task("PIN")) == sheet
    with pytest.raises(CatalogueError, match="a task PIN already"):
        add_task(code="PIN", sheet=sheet, by=make_user(), at=NOW, reason="again")


def test_undo_puts_back_only_what_the_change_touched() -> None:
    person = make_user()
    first = alter("BAL", by=person, interval_days=120)
    alter("BAL", by=person, at=LATER, minutes=25)
    undone = undo_change(change=first, by=person, at=LATER, reason="too often")
    assert (task("BAL").interval_days, task("BAL").minutes) == (180, 25)
    assert undone.undoes == first
    with pytest.raises(CatalogueError, match="undone already"):
        undo_change(change=first, by=person, at=LATER, reason="again")


def test_an_undo_can_be_undone() -> None:
    person = make_user()
    first = alter("BAL", by=person, interval_days=120)
    undone = undo_change(change=first, by=person, at=LATER, reason="too often")
    undo_change(change=undone, by=person, at=LATER, reason="after all")
    assert task("BAL").interval_days == 120


def test_what_was_changed_again_since_is_not_undone() -> None:
    person = make_user()
    first = alter("BAL", by=person, interval_days=120)
    alter("BAL", by=person, at=LATER, interval_days=100)
    with pytest.raises(ChangedSinceError, match="changed again since"):
        undo_change(change=first, by=person, at=LATER, reason="back")
    assert task("BAL").interval_days == 100


def test_undoing_a_new_task_takes_it_off_the_lists_and_keeps_it() -> None:
    person = make_user()
    sheet = altered_sheet(task("BAL"), name="Hinge pins")
    change = add_task(code="PIN", sheet=sheet, by=person, at=NOW, reason="pins fell out")
    undo_change(change=change, by=person, at=LATER, reason="not needed")
    assert MaintenanceTask.objects.get(code="PIN").is_on_due_lists is False
