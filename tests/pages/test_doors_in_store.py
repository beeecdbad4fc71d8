"""A person of one depot and the doors that are on no truck at present."""

from datetime import date, timedelta

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from fleetdoors.models import Depot, DoorUnit
from inspections.models import Inspection, RoadHold, Visit
from tests.factories import NOW, make_depot, make_door, make_loose_door, make_user

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("recompute_requests")]


def in_store(depot: Depot) -> DoorUnit:
    """A door whose last truck lives at the depot."""
    door = make_door(depot=depot)
    door.mountings.update(removed_on=date(2026, 2, 1), end_entered_at=NOW)
    return door


def test_a_door_in_store_is_seen_where_its_last_truck_lives_and_a_new_one_everywhere() -> None:
    north, south = make_depot(), make_depot()
    kim = make_user(depots=[north])
    here, there, stored = make_door(depot=north), make_door(depot=south), in_store(north)
    elsewhere, new = in_store(south), make_loose_door()
    seen = set(DoorUnit.objects.visible_to(kim))
    assert seen == {here, stored, new}
    assert there not in seen
    assert elsewhere not in seen
    assert DoorUnit.objects.visible_to(make_user()).count() == 5


def test_a_door_that_moved_depot_before_it_came_off_is_seen_at_the_last_one() -> None:
    north, south = make_depot(), make_depot()
    door = in_store(north)
    truck = make_door(depot=south).mountings.get().truck
    door.mountings.create(
        truck=truck, mounted_on=date(2026, 2, 2), removed_on=date(2026, 2, 9), entered_at=NOW
    )
    assert door not in DoorUnit.objects.visible_to(make_user(depots=[north]))
    assert door in DoorUnit.objects.visible_to(make_user(depots=[south]))


def test_a_new_door_is_put_into_service_by_a_technician_of_one_depot() -> None:
    client, door = Client(), make_loose_door()
    kim = make_user(depots=[make_depot()])
    client.force_login(kim)
    sent = {
        "kind": "commissioning",
        "inspector": "Kim",
        "begun_at": (timezone.now() - timedelta(minutes=5)).strftime("%Y-%m-%dT%H:%M"),
        "drag": "60",
    }
    assert client.post(reverse("inspection-new", args=[door.serial]), sent).status_code == 302
    assert Inspection.objects.get().kind == "commissioning"


def test_a_visit_or_a_hold_of_a_door_in_store_is_on_the_round() -> None:
    north = make_depot()
    kim, other = make_user(depots=[north]), make_user(depots=[make_depot()])
    door = in_store(north)
    visit = Visit.objects.create(door=door, planned_on=timezone.localdate(), entered_at=NOW)
    hold = RoadHold.objects.create(door=door, because="drops", placed_at=NOW, entered_at=NOW)
    client = Client()
    client.force_login(kim)
    page = client.get(reverse("round")).content.decode()
    assert reverse("visit-detail", args=[visit.pk]) in page
    assert hold in RoadHold.objects.visible_to(kim)
    for rows in (Visit.objects, RoadHold.objects):
        assert not rows.visible_to(other).exists()
