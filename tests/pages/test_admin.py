"""The registry: who may open it, what its forms refuse, and that old values stay on record."""

from datetime import date

import pytest
from django.apps import apps
from django.contrib import admin
from django.contrib.admin.models import LogEntry
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from fleetdoors.admin.registry import RecordAdmin
from fleetdoors.models import Counter, DoorUnit, Mounting, Part, Role, User
from inspections.models import PartTakenBack
from tests.cost_factories import make_invoice, make_minutes, make_rate
from tests.factories import (
    NOW,
    component,
    make_counter,
    make_depot,
    make_door,
    make_door_model,
    make_fault,
    make_fitment,
    make_loose_door,
    make_part,
    make_part_used,
    make_reading,
    make_stock_count,
    make_task_done,
    make_truck,
    make_user,
    task,
)
from tests.stock_factories import make_one_of_each_in_stores
from tests.truck_factories import make_one_of_each

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("recompute_requests")]
OURS = [
    model
    for model in admin.site._registry
    if model._meta.app_label in ("fleetdoors", "inspections")
]
# These are kept and shown on pages of their own, not in the registry.
ON_PAGES_OF_THEIR_OWN = {
    "announcedchange",
    "causeshare",
    "digestchoice",
    "lastlook",
    "lettinggo",
    "machineentry",
    "nightchoice",
    "offplanreason",
    "oneoffcheck",
    "oneofflook",
    "phonepin",
    "planacceptance",
    "planstep",
    "visitfeed",
}
EVENTS = [model for model in OURS if isinstance(admin.site._registry[model], RecordAdmin)]


def address(model, page: str, *args) -> str:
    return reverse(f"admin:{model._meta.app_label}_{model._meta.model_name}_{page}", args=args)


def administrator(**facts) -> Client:
    client = Client()
    client.force_login(make_user(role=Role.ADMINISTRATOR, **facts))
    return client


def make_some_of_everything(times: int) -> None:
    for number in range(times):
        depot = make_depot()
        door, part = make_door(depot=depot), make_part(component=component("fuse"))
        make_counter(door=door)
        make_fitment(door=door, component=component("fuse"), part=part)
        make_reading(door=door, counter_value=number)
        make_fault(door=door, component=component("fuse"))
        make_task_done(door=door, task=task("LUB"))
        used = make_part_used(door=door, part=part, depot=depot)
        PartTakenBack.objects.create(door=door, used=used, reason="slip", entered_at=NOW)
        make_stock_count(depot=depot, part=part)
        make_one_of_each()
        make_one_of_each_in_stores()
        make_minutes()
        make_rate()
        make_invoice(number=f"{depot}-{number}")


def test_every_noun_of_the_record_has_its_place() -> None:
    names = {model._meta.model_name for model in OURS}
    assert {"depot", "truck", "doormodel", "doorunit", "mounting", "counter", "fitment"} <= names
    assert {"component", "part", "maintenancetask", "caution", "user"} <= names
    events = {model._meta.model_name for model in EVENTS}
    assert events >= {"counterreading", "fault", "taskdone", "partused", "stockcount"}
    at_the_truck = apps.get_app_config("inspections").get_models()
    kept_by_form = {"springauthorisation", "stockplace", "stocklot", "supplier", "supplierprice"}
    recorded = {model._meta.model_name for model in at_the_truck}
    assert events == recorded - kept_by_form - ON_PAGES_OF_THEIR_OWN


@pytest.mark.parametrize("role", [Role.PLANNER, Role.TECHNICIAN, Role.BUYER])
@pytest.mark.parametrize("is_staff", [True, False])
def test_other_roles_stay_outside(role: Role, is_staff: bool) -> None:
    user = make_user(role=role)
    User.objects.filter(pk=user.pk).update(is_staff=is_staff)
    client = Client()
    client.force_login(user)
    for model in OURS:
        assert client.get(address(model, "changelist")).status_code in (302, 403)


@pytest.mark.parametrize("model", OURS, ids=lambda model: model._meta.model_name)
@pytest.mark.parametrize("is_superuser", [True, False])
def test_the_administrator_sees_each_list_and_row(model, is_superuser: bool) -> None:
    make_some_of_everything(1)
    client = administrator(is_superuser=is_superuser)
    assert client.get(address(model, "changelist")).status_code == 200
    row = model._default_manager.first()
    response = client.get(address(model, "change", row.pk))
    assert response.status_code == 200
    assert b"deletelink" not in response.content


@pytest.mark.parametrize("model", OURS, ids=lambda model: model._meta.model_name)
def test_a_list_asks_no_more_often_when_rows_triple(model) -> None:
    client = administrator()
    make_some_of_everything(2)
    counts = []
    for _repeat in range(2):
        with CaptureQueriesContext(connection) as queries:
            assert client.get(address(model, "changelist")).status_code == 200
        counts.append(len(queries))
        make_some_of_everything(4)
    assert counts[0] == counts[1]


@pytest.mark.parametrize("model", EVENTS, ids=lambda model: model._meta.model_name)
def test_events_are_neither_added_changed_nor_deleted_here(model) -> None:
    make_some_of_everything(1)
    row = model._default_manager.first()
    client = administrator(is_superuser=True)
    assert client.get(address(model, "add")).status_code == 403
    assert client.post(address(model, "change", row.pk), {}).status_code == 403
    assert client.post(address(model, "delete", row.pk), {"post": "yes"}).status_code == 403
    assert model._default_manager.filter(pk=row.pk).exists()


@pytest.mark.parametrize(
    "model",
    [model for model in OURS if model not in EVENTS],
    ids=lambda model: model._meta.model_name,
)
def test_registry_rows_have_a_form_and_are_not_deleted(model) -> None:
    client = administrator(is_superuser=True)
    make_some_of_everything(1)
    row = model._default_manager.first()
    assert client.get(address(model, "add")).status_code == 200
    assert client.post(address(model, "delete", row.pk), {"post": "yes"}).status_code == 403


def test_a_duplicate_serial_is_refused_and_kept_as_typed() -> None:
    model = make_door_model()
    make_loose_door(serial="D-17", door_model=model)
    data = {"serial": "D-17", "door_model": model.pk, "opening_cycles": "4321"}
    response = administrator().post(address(DoorUnit, "add"), data)
    text = response.content.decode()
    assert "already exists" in text
    assert 'value="4321"' in text
    assert DoorUnit.objects.count() == 1


def test_a_door_goes_on_a_truck_by_form() -> None:
    door, truck = make_loose_door(), make_truck()
    data = {"door": door.pk, "truck": truck.pk, "mounted_on": "2026-11-20"}
    response = administrator().post(address(Mounting, "add"), data)
    assert response.status_code == 302
    mounting = Mounting.objects.get()
    assert (mounting.door, mounting.truck, mounting.removed_on) == (door, truck, None)
    assert DoorUnit.objects.get(pk=door.pk).revision == 1


def test_a_second_door_on_a_truck_is_refused_in_words() -> None:
    truck = make_truck(fleet_number="2104")
    make_door(serial="OLD", truck=truck)
    data = {"door": make_loose_door().pk, "truck": truck.pk, "mounted_on": "2026-11-20"}
    response = administrator().post(address(Mounting, "add"), data)
    text = response.content.decode()
    assert "truck 2104 has door OLD" in text
    assert "is violated" not in text
    assert Mounting.objects.count() == 1


@pytest.mark.parametrize(("day", "ends"), [("2026-11-20", True), ("2020-01-01", False)])
def test_a_door_comes_off_by_form_once(day: str, ends: bool) -> None:
    make_door()
    mounting = Mounting.objects.get()
    client = administrator()
    response = client.post(address(Mounting, "change", mounting.pk), {"removed_on": day})
    mounting.refresh_from_db()
    assert response.status_code == (302 if ends else 200)
    assert mounting.removed_on == (date(2026, 11, 20) if ends else None)
    if ends:
        again = client.post(address(Mounting, "change", mounting.pk), {"removed_on": "2026-11-22"})
        assert again.status_code == 403


def test_a_second_counter_that_is_still_on_is_refused_in_words() -> None:
    door = make_door()
    make_counter(door=door)
    data = {"door": door.pk, "serial": "B", "fitted_on": "2026-11-20", "first_value": "0"}
    response = administrator().post(address(Counter, "add"), data)
    assert "one counter at a time" in response.content.decode()
    assert Counter.objects.count() == 1


def test_a_counter_row_begins_by_form_with_the_moment_of_entry() -> None:
    door = make_door()
    data = {"door": door.pk, "serial": "B", "fitted_on": "2026-11-20", "first_value": "77"}
    assert administrator().post(address(Counter, "add"), data).status_code == 302
    counter = Counter.objects.get()
    assert counter.entered_at.date() >= NOW.date()
    assert DoorUnit.objects.get(pk=door.pk).revision == 1


def test_a_change_writes_the_old_value_into_the_history() -> None:
    door = make_door()
    counter = make_counter(door=door, serial="A", first_value=30)
    data = {"serial": "A", "fitted_on": "2025-01-01", "first_value": "300"}
    administrator().post(address(Counter, "change", counter.pk), data)
    counter.refresh_from_db()
    assert counter.first_value == 300
    assert "30 → 300" in LogEntry.objects.get().get_change_message()
    assert DoorUnit.objects.get(pk=door.pk).revision == 1


def test_the_history_tells_related_rows_and_lists_too() -> None:
    model = make_door_model()
    part = make_part(part_number="P-9", component=component("fuse"))
    data = {"part_number": "P-9", "name": "Fuse 15 A", "pack_size": "1", "fits": [model.pk],
            "component": component("fuse_holder").pk}  # fmt: skip
    administrator().post(address(Part, "change", part.pk), data)
    message = LogEntry.objects.get().get_change_message()
    assert "Part P-9 → Fuse 15 A" in message
    assert f"{component('fuse').pk} → {component('fuse_holder').pk}" in message
    assert f"– → {model.pk}" in message


def test_a_new_setting_of_a_depot_makes_its_doors_stale() -> None:
    depot = make_depot()
    door, other = make_door(depot=depot), make_door()
    data = {"code": depot.code, "timezone": "UTC", "setting": "salt+coast",
            "salt_from": "11-01", "salt_until": "03-31"}  # fmt: skip
    response = administrator().post(address(type(depot), "change", depot.pk), data)
    assert response.status_code == 302
    assert DoorUnit.objects.get(pk=door.pk).revision == 1
    assert DoorUnit.objects.get(pk=other.pk).revision == 0


def test_a_wrong_setting_is_refused_in_words() -> None:
    depot = make_depot()
    data = {"code": depot.code, "timezone": "UTC", "setting": "snow",
            "salt_from": "11-01", "salt_until": "03-31"}  # fmt: skip
    text = administrator().post(address(type(depot), "change", depot.pk), data).content.decode()
    assert "Setting must be made of" in text
    assert 'value="snow"' in text


def test_an_administrator_by_role_enters_and_no_more() -> None:
    client = administrator()
    data = {"username": "kim", "usable_password": "true", "password1": "Vq7-long-words",
            "password2": "Vq7-long-words", "role": Role.ADMINISTRATOR,
            "is_superuser": "on"}  # fmt: skip
    assert client.post(address(User, "add"), data).status_code == 302
    kim = User.objects.get(username="kim")
    assert (kim.is_staff, kim.is_superuser) == (True, False)


def test_only_a_superuser_changes_a_superuser() -> None:
    chief = make_user(username="chief", is_superuser=True)
    client = administrator()
    page = address(User, "change", chief.pk)
    assert client.post(page, {"username": "chief", "role": "buyer"}).status_code == 403
    password = reverse("admin:auth_user_password_change", args=[chief.pk])
    assert client.post(password, {"password1": "x", "password2": "x"}).status_code == 403


def test_a_person_who_is_no_longer_administrator_no_longer_enters() -> None:
    person = make_user(username="kim", role=Role.ADMINISTRATOR)
    data = {"username": "kim", "role": Role.BUYER, "is_active": "on"}
    assert administrator().post(address(User, "change", person.pk), data).status_code == 302
    person.refresh_from_db()
    assert not person.is_staff
