"""A truck has one door at a time, and a door's stays do not overlap."""

from datetime import date

import pytest

from fleetdoors.models import DoorUnit, Mounting
from fleetdoors.services.mounting import (
    MountingRefusedError,
    check_mounting,
    mount_door,
    move_door,
    unmount_door,
)
from tests.factories import NOW, make_door, make_loose_door, make_mounting, make_truck

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("recompute_requests")]
TODAY = date(2026, 11, 25)


def test_mount_door_begins_a_stay_and_marks_the_figures_stale() -> None:
    door, truck = make_loose_door(), make_truck()
    mounting = mount_door(door=door, truck=truck, mounted_on=TODAY, entered_at=NOW)
    assert (mounting.truck, mounting.removed_on, mounting.entered_at) == (truck, None, NOW)
    assert DoorUnit.objects.get(pk=door.pk).revision == 1


def test_mount_door_asks_for_new_figures_once_the_transaction_stands(
    recompute_requests: list[tuple[int, ...]], django_capture_on_commit_callbacks
) -> None:
    door = make_loose_door()
    with django_capture_on_commit_callbacks(execute=True):
        mount_door(door=door, truck=make_truck(), mounted_on=TODAY, entered_at=NOW)
        assert recompute_requests == []
    assert recompute_requests == [(door.pk,)]


def test_mount_door_refuses_a_second_door_on_a_truck() -> None:
    truck = make_truck(fleet_number="2104")
    make_door(serial="OLD", truck=truck)
    door = make_loose_door(serial="NEW")
    with pytest.raises(MountingRefusedError, match="truck 2104 has door OLD"):
        mount_door(door=door, truck=truck, mounted_on=TODAY, entered_at=NOW)
    assert Mounting.objects.filter(door=door).count() == 0
    assert DoorUnit.objects.get(pk=door.pk).revision == 0


def test_mount_door_refuses_a_door_that_is_on_another_truck() -> None:
    door = make_door(serial="D1", truck=make_truck(fleet_number="2104"))
    with pytest.raises(MountingRefusedError, match="D1 is on truck 2104"):
        mount_door(door=door, truck=make_truck(), mounted_on=TODAY, entered_at=NOW)
    assert Mounting.objects.count() == 1


def test_mount_door_refuses_a_retired_door() -> None:
    door = make_loose_door(retired_on=TODAY)
    with pytest.raises(MountingRefusedError, match="retired on 2026-11-25"):
        mount_door(door=door, truck=make_truck(), mounted_on=TODAY, entered_at=NOW)


@pytest.mark.parametrize("whose", ["door", "truck"])
def test_mount_door_refuses_a_stay_that_overlaps_a_past_one(whose: str) -> None:
    door, truck = make_loose_door(), make_truck()
    make_mounting(
        door=door if whose == "door" else make_loose_door(),
        truck=truck if whose == "truck" else make_truck(),
        mounted_on=date(2026, 1, 1),
        removed_on=date(2026, 6, 1),
    )
    with pytest.raises(MountingRefusedError, match="2026-01-01 to 2026-06-01"):
        mount_door(door=door, truck=truck, mounted_on=date(2026, 5, 1), entered_at=NOW)
    mount_door(door=door, truck=truck, mounted_on=date(2026, 6, 1), entered_at=NOW)
    assert Mounting.objects.open().get().mounted_on == date(2026, 6, 1)


def test_check_mounting_changes_nothing() -> None:
    door, truck = make_loose_door(), make_truck()
    check_mounting(door=door, truck=truck, mounted_on=TODAY)
    assert not Mounting.objects.exists()


def test_unmount_door_keeps_the_stay_and_says_when_its_end_was_entered() -> None:
    door = make_door()
    mounting = unmount_door(door=door, removed_on=TODAY, entered_at=NOW)
    kept = Mounting.objects.get(pk=mounting.pk)
    assert (kept.removed_on, kept.end_entered_at) == (TODAY, NOW)


def test_unmount_door_refuses_a_door_on_no_truck() -> None:
    with pytest.raises(MountingRefusedError, match="on no truck"):
        unmount_door(door=make_loose_door(), removed_on=TODAY, entered_at=NOW)


def test_unmount_door_refuses_a_day_before_it_went_on() -> None:
    door = make_door()
    with pytest.raises(MountingRefusedError, match="not after 2024-12-31"):
        unmount_door(door=door, removed_on=date(2024, 12, 31), entered_at=NOW)
    assert Mounting.objects.open().filter(door=door).exists()


def test_move_door_ends_one_stay_and_begins_the_next_on_the_same_day() -> None:
    door, target = make_door(), make_truck()
    move_door(door=door, truck=target, moved_on=TODAY, entered_at=NOW)
    stays = list(Mounting.objects.filter(door=door).order_by("mounted_on"))
    assert [stay.removed_on for stay in stays] == [TODAY, None]
    assert (stays[1].truck, stays[1].mounted_on) == (target, TODAY)


def test_move_door_leaves_the_door_where_it_was_when_the_target_is_taken() -> None:
    door, target = make_door(), make_truck()
    make_door(truck=target)
    with pytest.raises(MountingRefusedError):
        move_door(door=door, truck=target, moved_on=TODAY, entered_at=NOW)
    assert Mounting.objects.open().get(door=door).removed_on is None
