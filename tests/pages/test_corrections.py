"""Pages that correct what was entered on a visit, and that say how often each cause is it."""

from datetime import timedelta

import pytest
from django.test import Client
from django.urls import reverse

from fleetdoors.models import Depot, Fitment, Role
from inspections.models import (
    CauseShare,
    FollowUp,
    Measurement,
    PartUsed,
    SafetyTick,
    VisitState,
)
from inspections.services.faults import FaultFacts, PartUse, record_fault
from inspections.tracing.likelihood import GROUPS
from tests.factories import (
    NOW,
    component,
    make_depot,
    make_door,
    make_fitment,
    make_part,
    make_user,
    task,
)
from tests.truck_factories import (
    make_inspection,
    make_measurement,
    make_open_visit,
    make_tick,
    make_trace,
    make_visit,
)

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("recompute_requests")]


def signed_in(role: Role = Role.TECHNICIAN, depots: list[Depot] | None = None) -> Client:
    client = Client()
    client.force_login(make_user(role=role, depots=depots or []))
    return client


def text(response) -> str:
    return response.content.decode()


def used_on(visit, quantity: int = 2) -> PartUsed:
    return PartUsed.objects.create(
        door=visit.door,
        used_at=visit.started_at + timedelta(minutes=5),
        part=make_part(),
        quantity=quantity,
        entered_at=NOW,
    )


def test_a_measurement_is_corrected_from_its_inspection() -> None:
    inspection = make_inspection()
    old = make_measurement(
        inspection=inspection, quantity="drag", value=120.0, near_high=100.0, limit_high=150.0
    )
    client = signed_in()
    shown = reverse("inspection-detail", args=[inspection.pk])
    address = reverse("measurement-correct", args=[old.pk])
    assert address in text(client.get(shown))
    assert 'value="120"' in text(client.get(address))
    response = client.post(address, {"value": "180", "reason": "scale was in kg"})
    assert response.url == shown
    page = text(client.get(shown))
    assert "past its limit" in page
    assert '<del class="struck">120.00 N</del>' in page
    assert "scale was in kg" in page
    assert FollowUp.objects.open().get().task.code == "LUB"


def test_an_unusual_value_is_asked_about_once() -> None:
    old = make_measurement(inspection=make_inspection(), quantity="converter_no_load", value=32.0)
    client, address = signed_in(), reverse("measurement-correct", args=[old.pk])
    sent = {"value": "3.2", "reason": "slip"}
    assert "decimal point" in text(client.post(address, sent))
    assert Measurement.objects.count() == 1
    assert client.post(address, sent | {"is_confirmed": "1"}).status_code == 302


@pytest.mark.parametrize(
    ("value", "reason", "says"),
    [("320", "slip", "cannot read 320"), ("12.6", "slip", "value on record"), ("12", "", "field")],
)
def test_what_is_no_correction_says_why(value: str, reason: str, says: str) -> None:
    old = make_measurement(inspection=make_inspection())
    sent = {"value": value, "reason": reason, "is_confirmed": "1"}
    response = signed_in().post(reverse("measurement-correct", args=[old.pk]), sent)
    assert says in text(response)
    assert Measurement.objects.count() == 1


def test_a_part_used_is_corrected_or_taken_back_from_its_visit() -> None:
    visit = make_open_visit()
    used = used_on(visit)
    client = signed_in()
    detail = reverse("visit-detail", args=[visit.pk])
    address = reverse("part-used-correct", args=[used.pk])
    assert address in text(client.get(detail))
    sent = {"part": used.part_id, "quantity": "1", "reason": "one went back on the shelf"}
    assert client.get(address).status_code == 200
    assert client.post(address, sent).status_code == 302
    one = PartUsed.objects.in_force().get()
    assert (one.quantity, one.corrects, one.reason) == (1, used, "one went back on the shelf")
    back = reverse("part-used-correct", args=[one.pk])
    client.post(back, sent | {"quantity": "0", "reason": "the old fuse was good"})
    assert not PartUsed.objects.in_force().exists()
    one.refresh_from_db()
    assert one.taken_back_because == "the old fuse was good"
    assert "corrected before" in text(client.post(back, sent))


def test_a_tick_set_by_mistake_is_taken_back_and_asked_for_again() -> None:
    visit = make_open_visit()
    make_tick(visit=visit)
    client, detail = signed_in(), reverse("visit-detail", args=[visit.pk])
    assert "Take this tick back" in text(client.get(detail))
    client.post(reverse("visit-tick-back", args=[visit.pk]), {"tick": "chocks"})
    tick = SafetyTick.objects.get()
    assert tick.taken_back_at is not None
    client.post(reverse("visit-tick", args=[visit.pk]), {"tick": "chocks"})
    assert SafetyTick.objects.in_force().get() != tick


def test_a_closed_visit_keeps_its_ticks() -> None:
    visit = make_open_visit()
    make_tick(visit=visit)
    visit.state, visit.closed_at, visit.signed_by = VisitState.CLOSED, visit.started_at, "Kim"
    visit.save()
    address = reverse("visit-tick-back", args=[visit.pk])
    response = signed_in().post(address, {"tick": "chocks"}, follow=True)
    assert "on an open visit" in text(response)
    assert SafetyTick.objects.get().taken_back_at is None


def fitted_on(door) -> Fitment:
    """A spring that was changed this morning, in place of the one there since the beginning."""
    make_fitment(door=door, component=component("spring"))
    part = make_part(component=component("spring"), name="Spring, strong")
    record_fault(
        door=door,
        facts=FaultFacts(found_at=NOW, at_cycles=900, component=part.component),
        parts=[PartUse(part, 1, removal="failed")],
        entered_at=NOW,
    )
    return Fitment.objects.get(door=door, part=part)


def test_a_part_fitted_by_mistake_is_taken_back_from_the_door() -> None:
    new = fitted_on(make_door(depot=make_depot()))
    client, door = signed_in(), reverse("door-detail", args=[new.door.serial])
    address = reverse("fitment-back", args=[new.pk])
    assert address in text(client.get(door))
    # From the use that was written with it, too.
    used = PartUsed.objects.get()
    assert address in text(client.get(reverse("part-used-correct", args=[used.pk])))
    form = text(client.get(address))
    assert "goes on as if it had never come off" in form
    assert 'name="what"' not in form
    refused = text(client.post(address, {"pieces_back": "2", "reason": "other truck"}))
    assert "1, not 2" in refused
    assert "other truck" in refused
    response = client.post(address, {"pieces_back": "1", "reason": "other truck"})
    assert response.url == door
    page = text(client.get(door))
    assert "Spring, strong" in page.split('<del class="struck">')[1].split("</del>")[0]
    assert "other truck" in page
    assert page.split('id="used"')[1].count("Spring, strong") == 0
    again = text(client.get(address))
    assert "taken back before" in again
    assert 'name="reason"' not in again


def test_a_part_that_never_came_off_stays_in_place() -> None:
    stay = make_fitment(
        door=make_door(depot=make_depot()), component=component("spring"), removal="other",
        removed_on=NOW.date(), removed_at_cycles=700,
    )  # fmt: skip
    client, address = signed_in(), reverse("fitment-back", args=[stay.pk])
    door = reverse("door-detail", args=[stay.door.serial])
    assert address in text(client.get(door))
    assert 'value="removal"' in text(client.get(address))
    assert client.post(address, {"what": "removal", "reason": "looked at"}).status_code == 302
    assert Fitment.objects.in_place().get().corrects == stay
    assert "came off on" in text(client.get(door)).split('<del class="struck">')[1]


@pytest.mark.parametrize(
    "name", ["measurement-correct", "part-used-correct", "fitment-back", "visit-tick-back"]
)
def test_only_those_at_work_at_the_depot_correct(name: str) -> None:
    visit = make_open_visit()
    rows = {
        "measurement-correct": make_measurement(door=visit.door),
        "part-used-correct": used_on(visit),
        "fitment-back": make_fitment(door=visit.door, component=component("spring")),
        "visit-tick-back": visit,
    }
    address = reverse(name, args=[rows[name].pk])
    assert signed_in(Role.BUYER).post(address).status_code == 403
    assert signed_in(Role.PLANNER, [make_depot()]).post(address).status_code == 404
    assert Client().post(address).url.startswith(reverse("sign-in"))


def test_a_job_marked_done_leads_to_its_entry() -> None:
    visit = make_visit(state=VisitState.OPEN, started_at=NOW, technician=make_user())
    done = visit.door.tasks_done.create(task=task("LFT"), done_at=NOW, entered_at=NOW)
    visit.jobs.create(kind="task", task=task("LFT"), outcome="done", done_at=NOW, task_done=done)
    page = text(signed_in().get(reverse("visit-detail", args=[visit.pk])))
    assert reverse("task-done-correct", args=[done.pk]) in page


# Causes


def test_the_shares_of_causes_are_shown_with_what_they_rest_on() -> None:
    depot = make_depot()
    client = signed_in(Role.TECHNICIAN, [depot])
    page = text(client.get(reverse("cause-shares")))
    assert "0 repaired faults" in page
    assert "Remote or switch" in page
    assert "Say other shares" not in page
    assert client.get(reverse("cause-shares"), {"depot": depot.code}).status_code == 200
    elsewhere = {"depot": make_depot().code}
    assert client.get(reverse("cause-shares"), elsewhere).status_code == 404
    assert client.get(reverse("cause-shares-say")).status_code == 403
    trace = make_trace(door=make_door(depot=depot))
    assert "0 repaired faults of this fleet" in text(client.get(reverse("trace", args=[trace.pk])))


def test_a_planner_says_other_shares() -> None:
    client, address = signed_in(Role.PLANNER), reverse("cause-shares-say")
    sent = {code: f"{group.prior * 100:g}" for code, group in GROUPS.items()}
    page = text(client.get(address))
    assert 'value="18"' in page
    refused = client.post(address, sent | {"cable": "50", "reason": "x"})
    assert "add up to 136" in text(refused)
    assert not CauseShare.objects.exists()
    sent |= {"cable": "24", "remote": "8", "reason": "old coils"}
    assert client.post(address, sent).url == reverse("cause-shares")
    assert CauseShare.objects.in_force().count() == 2
