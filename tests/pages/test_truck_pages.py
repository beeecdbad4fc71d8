"""Pages at the truck: who may open them, what they keep, what they refuse, what they never do."""

from datetime import timedelta

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from fleetdoors.models import Depot, DoorUnit, Fitment, Role
from inspections.door_code import spoken
from inspections.models import (
    Attachment,
    DefectReport,
    DefectState,
    DoorLabel,
    Fault,
    FaultTrace,
    FollowUp,
    Inspection,
    Measurement,
    PartUsed,
    Repair,
    RoadHold,
    Visit,
    VisitState,
)
from inspections.quantities import QUANTITIES
from inspections.services.labels import issue_label
from tests.factories import (
    NOW,
    component,
    make_depot,
    make_door,
    make_fault,
    make_fitment,
    make_part,
    make_reading,
    make_user,
    task,
)
from tests.truck_factories import (
    make_defect_report,
    make_final_check,
    make_follow_up,
    make_hold,
    make_inspection,
    make_measurement,
    make_open_visit,
    make_spring_word,
    make_tick,
    make_trace,
    make_visit,
)

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("recompute_requests")]
TYPED_NOW = NOW.strftime("%Y-%m-%dT%H:%M")
AT_DOOR = ["visit-plan", "inspection-new", "trace-begin", "defect-new", "hold-new"]
OF_ROW = {
    "visit-detail": lambda door: make_visit(door=door),
    "visit-start": lambda door: make_visit(door=door),
    "visit-tick": lambda door: make_visit(door=door),
    "visit-add-jobs": lambda door: make_visit(door=door),
    "visit-hand-over": lambda door: make_visit(door=door),
    "visit-absent": lambda door: make_visit(door=door),
    "visit-check": lambda door: make_visit(door=door),
    "visit-close": lambda door: make_visit(door=door),
    "trace": lambda door: make_trace(door=door),
    "trace-answer": lambda door: make_trace(door=door),
    "trace-undo": lambda door: make_trace(door=door),
    "trace-fault": lambda door: make_trace(door=door),
    "inspection-detail": lambda door: make_inspection(door=door),
    "defect-detail": lambda door: make_defect_report(door=door),
    "hold-lift": lambda door: make_hold(door=door),
    "follow-up-drop": lambda door: make_follow_up(door=door),
}
OPEN_TO_ALL = {"inspection-detail"}
POSTED = {
    "visit-start",
    "visit-tick",
    "visit-add-jobs",
    "trace-answer",
    "trace-undo",
    "trace-fault",
}
PNG = b"\x89PNG\r\n\x1a\n" + b"0" * 40


def signed_in(role: Role = Role.TECHNICIAN, depots: list[Depot] | None = None) -> Client:
    client = Client()
    client.force_login(make_user(role=role, depots=depots or []))
    return client


def text(response) -> str:
    return response.content.decode()


# Who gets in


@pytest.mark.parametrize("role", list(Role))
def test_pages_at_a_door_are_for_technicians_and_planners(role: Role) -> None:
    door, client = make_door(), signed_in(role)
    for name in AT_DOOR:
        response = client.get(reverse(name, args=[door.serial]))
        assert response.status_code == (403 if role == Role.BUYER else 200), name
        assert "<h1>" in text(response)
    for name in ("defect-list", "labels"):
        assert client.get(reverse(name)).status_code == (403 if role == Role.BUYER else 200)


@pytest.mark.parametrize("name", OF_ROW)
def test_a_row_opens_for_its_depot_and_role_only(name: str) -> None:
    door = make_door()
    address = reverse(name, args=[OF_ROW[name](door).pk])
    expected = 405 if name in POSTED else 200
    assert signed_in().get(address).status_code == expected
    assert signed_in(Role.PLANNER, [make_depot()]).post(address).status_code == 404
    buyer = signed_in(Role.BUYER)
    wanted = 200 if name in OPEN_TO_ALL else 403
    assert buyer.get(address).status_code == wanted
    assert Client().get(address).url.startswith(reverse("sign-in"))


@pytest.mark.parametrize("serial", ["A/12 3", "50%?#", "<b>x</b>"])
def test_an_odd_serial_opens_its_pages(serial: str) -> None:
    make_door(serial=serial)
    client = signed_in()
    for name in AT_DOOR:
        response = client.get(reverse(name, args=[serial]))
        assert response.status_code == 200
        assert "<b>x</b>" not in text(response)


# Visits


def test_the_round_holds_today_what_was_left_and_what_is_open_by_depot() -> None:
    depot = make_depot()
    planned = make_visit(door=make_door(depot=depot), planned_on=NOW.date() - timedelta(days=400))
    planned.jobs.create(kind="task", task=task("LUB"))
    begun, later = make_open_visit(), make_visit(planned_on=NOW.date() + timedelta(days=9_000))
    page = text(signed_in().get(reverse("round")))
    assert reverse("visit-detail", args=[planned.pk]) in page
    assert reverse("visit-detail", args=[begun.pk]) in page
    assert reverse("visit-detail", args=[later.pk]) not in page
    assert "Lubrication" in page
    here = text(signed_in(depots=[depot]).get(reverse("round")))
    assert reverse("visit-detail", args=[begun.pk]) not in here
    assert "No visit is planned" in text(signed_in(depots=[make_depot()]).get(reverse("round")))


def test_a_visit_is_planned_with_what_stands_open_and_begun() -> None:
    door, client = make_door(), signed_in()
    fault, asked = make_fault(door=door, complaint="S1"), make_follow_up(door=door)
    page = text(client.get(reverse("visit-plan", args=[door.serial]) + "?task=LUB"))
    assert page.count("checked") == 3
    answer = client.post(
        reverse("visit-plan", args=[door.serial]),
        {
            "planned_on": "2026-11-26",
            "tasks": [task("LUB").pk],
            "faults": [fault.pk],
            "follow_ups": [asked.pk],
            "begin": "1",
        },
    )
    visit = Visit.objects.get()
    assert answer.url == reverse("visit-detail", args=[visit.pk])
    assert (visit.state, visit.jobs.count()) == (VisitState.OPEN, 3)
    assert "ticks are still open" in text(client.get(answer.url))


def test_a_second_visit_to_an_open_door_leads_to_the_open_one() -> None:
    visit = make_open_visit()
    answer = signed_in().post(
        reverse("visit-plan", args=[visit.door.serial]), {"planned_on": "2026-12-24", "begin": "1"}
    )
    assert answer.url == reverse("visit-detail", args=[visit.pk])


def test_a_planned_visit_is_begun_by_a_button() -> None:
    visit, client = make_visit(), signed_in()
    client.post(reverse("visit-start", args=[visit.pk]))
    visit.refresh_from_db()
    assert visit.state == VisitState.OPEN


def test_ticks_are_set_skipped_with_a_reason_and_isolation_never() -> None:
    visit, client = make_open_visit(), signed_in()
    visit.jobs.create(kind="task", task=task("LUB"))
    address = reverse("visit-tick", args=[visit.pk])
    client.post(address, {"tick": "chocks"})
    client.post(address, {"tick": "clear_opening", "skipped_reason": "door is off"})
    page = text(client.post(address, {"tick": "isolation", "skipped_reason": "hurry"}, follow=True))
    assert "never skipped" in page
    assert visit.safety_ticks.count() == 2
    assert "door is off" in page


def test_what_stands_open_is_taken_up() -> None:
    visit, client = make_open_visit(), signed_in()
    make_fault(door=visit.door, complaint="S1")
    assert "Take up 1 more" in text(client.get(reverse("visit-detail", args=[visit.pk])))
    client.post(reverse("visit-add-jobs", args=[visit.pk]))
    assert visit.jobs.count() == 1


def test_a_visit_is_handed_over() -> None:
    visit, client, heir = make_open_visit(), signed_in(), make_user()
    address = reverse("visit-hand-over", args=[visit.pk])
    assert client.post(address, {"to_person": ""}).status_code == 200
    client.post(address, {"to_person": heir.pk, "note": "fuse is out"})
    visit.refresh_from_db()
    assert visit.technician == heir
    page = text(client.get(reverse("visit-detail", args=[visit.pk])))
    assert "fuse is out" in page


def test_a_truck_that_did_not_come_is_planned_again() -> None:
    visit, client = make_visit(), signed_in()
    address = reverse("visit-absent", args=[visit.pk])
    assert "required" in text(client.post(address, {"reason": ""}))
    client.post(address, {"reason": "on tour", "again_on": "2026-12-24"})
    assert Visit.objects.filter(state=VisitState.PLANNED).count() == 1


def final_check(**items: str) -> dict[str, str]:
    passed = ("three_cycles", "reverses", "ajar_lamp", "manual_release", "counter_advances")
    return dict.fromkeys(passed, "yes") | items


def test_the_final_check_is_answered_whole_and_kept() -> None:
    visit, client = make_open_visit(), signed_in()
    address = reverse("visit-check", args=[visit.pk])
    assert client.post(address, {"three_cycles": "yes"}).status_code == 200
    assert visit.final_checks.count() == 0
    client.post(address, final_check(reverses="no"))
    client.post(address, final_check())
    assert [each.has_passed for each in visit.final_checks.newest_first()] == [True, False]


def test_no_final_check_under_a_hold_that_forbids_power() -> None:
    visit, client = make_open_visit(), signed_in()
    make_hold(door=visit.door)
    page = text(client.post(reverse("visit-check", args=[visit.pk]), final_check()))
    assert "not run while a hold stands" in page


def closing_of(job, rows: int = 2, **told: str) -> dict[str, str]:
    name = f"job-{job.pk}"
    management = {f"{name}-parts-TOTAL_FORMS": str(rows), f"{name}-parts-INITIAL_FORMS": "0"}
    return management | {f"{name}-{key}": value for key, value in told.items()}


def test_a_visit_is_closed_with_its_fault_its_part_and_a_name() -> None:
    door, client = make_door(), signed_in()
    make_reading(door=door, counter_value=5_000)
    fuse = component("fuse")
    part = make_part(component=fuse)
    make_fitment(door=door, component=fuse)
    visit = make_open_visit(door=door)
    job = visit.jobs.create(kind="fault", fault=make_fault(door=door, component=fuse))
    for tick in ("chocks", "clear_opening", "isolation", "tools"):
        make_tick(visit=visit, tick=tick)
    data = closing_of(
        job, outcome="done", mode="FM10", mechanism="heat", cause="age", action="replace"
    ) | {
        f"job-{job.pk}-parts-0-part": str(part.pk),
        f"job-{job.pk}-parts-0-quantity": "1",
        f"job-{job.pk}-parts-0-removal": "failed",
        "signed_by": "Kim",
    }
    address = reverse("visit-close", args=[visit.pk])
    page = text(client.post(address, data))
    assert "before the final check has passed" in page
    assert not Repair.objects.exists()
    make_final_check(visit=visit)
    assert client.post(address, data).url == reverse("round")
    visit.refresh_from_db()
    assert (visit.state, visit.signed_by) == (VisitState.CLOSED, "Kim")
    assert PartUsed.objects.get().quantity == 1
    assert Fitment.objects.get(removal="failed").component == fuse
    assert (Repair.objects.get().mechanism, Repair.objects.get().cause) == ("heat", "age")


def test_a_job_refused_says_so_at_the_job() -> None:
    visit, client = make_open_visit(), signed_in()
    make_tick(visit=visit, tick="chocks")
    make_tick(visit=visit, tick="clear_opening")
    job = visit.jobs.create(kind="task", task=task("CTR"))
    data = closing_of(job, outcome="not_done") | {"signed_by": "Kim"}
    response = client.post(reverse("visit-close", args=[visit.pk]), data)
    [form] = response.context["forms"]
    assert "says why" in str(form.non_field_errors())


def test_a_fault_from_a_trace_comes_with_its_part_filled_in() -> None:
    visit, client = make_open_visit(), signed_in()
    part = make_part(component=component("remote_battery"))
    trace = make_trace(door=visit.door, visit=visit, symptom="S2")
    answer(client, trace, "N00", "yes")
    answer(client, trace, "N04", "measured", cell_volts="2.1", nominal_volts="3")
    page = text(client.get(reverse("trace", args=[trace.pk])))
    assert "Remote battery" in page
    assert part.name in page
    went = client.post(reverse("trace-fault", args=[trace.pk]))
    assert went.url == reverse("visit-detail", args=[visit.pk])
    fault = Fault.objects.get()
    assert (fault.mode, fault.complaint, fault.action) == ("FM01", "S2", "")
    page = text(client.get(reverse("visit-close", args=[visit.pk])))
    assert f'<option value="{part.pk}" selected>' in page
    assert '<option value="replace" selected>' in page
    client.post(reverse("trace-fault", args=[trace.pk]))
    assert Fault.objects.count() == 1


# Traces


def answer(client: Client, trace: FaultTrace, node: str, reply: str, **values: str):
    data = {f"values.{name}": value for name, value in values.items()}
    number = trace.answers.filter(withdrawn_at=None).count() + 1
    data |= {"node": node, "reply": reply, "sequence": str(number)}
    return client.post(reverse("trace-answer", args=[trace.pk]), data)


def test_a_trace_begins_at_its_symptom_and_goes_on_where_it_was() -> None:
    door, client = make_door(), signed_in()
    address = reverse("trace-begin", args=[door.serial])
    first = client.post(address, {"symptom": "S1", "engine_running": "1"})
    again = client.post(address, {"symptom": "S1"})
    assert first.url == again.url
    assert FaultTrace.objects.get().engine_running
    assert client.post(address, {"symptom": "S99"}).status_code == 200


def test_one_question_a_screen_with_cautions_likelihoods_and_undo() -> None:
    trace, client = make_trace(symptom="S1"), signed_in()
    page = text(client.get(reverse("trace", args=[trace.pk])))
    assert page.count("<h1>") == 1
    assert "C8" in page
    assert "low supply or feed" in page.lower()
    assert "Take the last answer back" not in page
    answer(client, trace, "N00", "yes")
    page = text(client.get(reverse("trace", args=[trace.pk])))
    assert "Take the last answer back" in page
    client.post(reverse("trace-undo", args=[trace.pk]))
    assert trace.answers.in_force().count() == 0


def test_what_cannot_be_understood_is_said_and_not_kept() -> None:
    trace, client = make_trace(symptom="S2"), signed_in()
    answer(client, trace, "N00", "yes")
    for reply, values in (("measured", {"cell_volts": "abc"}), ("perhaps", {}), ("measured", {})):
        response = answer(client, trace, "N04", reply, **values)
        page = text(client.get(response.url))
        assert "flash-error" in page
    assert trace.answers.count() == 1


def test_a_hard_stop_shows_no_question_and_is_signed_by_a_trained_person() -> None:
    visit = make_open_visit()
    trace, client = make_trace(door=visit.door, visit=visit), signed_in()
    answer(client, trace, "N00", "no")
    page = text(client.get(reverse("trace", args=[trace.pk])))
    assert "No powered test" in page
    assert 'value="yes"' not in page
    trace.refresh_from_db()
    sign = {"node": trace.verdict, "reply": "signed", "sequence": "2", "reason": "Kim"}
    page = text(client.post(reverse("trace-answer", args=[trace.pk]), sign, follow=True))
    assert "trained and authorized" in page
    assert trace.answers.count() == 1


def test_the_order_with_fewer_minutes_is_offered_and_the_classic_one_a_tap_away() -> None:
    trace, client = make_trace(symptom="S1"), signed_in()
    answer(client, trace, "N00", "yes")
    answer(client, trace, "N01", "yes")
    response = client.get(reverse("trace", args=[trace.pk]))
    suggestion = response.context["suggestion"]
    if suggestion.node != suggestion.classic_node:
        assert response.context["node"].code == suggestion.node
        classic = client.get(f"{reverse('trace', args=[trace.pk])}?node={suggestion.classic_node}")
        assert classic.context["node"].code == suggestion.classic_node


def test_a_verdict_without_a_visit_leads_to_the_fault_form_filled_in() -> None:
    door, client = make_door(), signed_in()
    part = make_part(component=component("remote_battery"))
    trace = make_trace(door=door, symptom="S2")
    answer(client, trace, "N00", "yes")
    answer(client, trace, "N04", "measured", cell_volts="2,1", nominal_volts="3")
    page = text(client.get(reverse("trace", args=[trace.pk])))
    start = page.index(reverse("fault-new", args=[door.serial]))
    address = page[start : page.index('"', start)].replace("&amp;", "&")
    form = client.get(address)
    assert form.context["form"]["component"].value() == "remote_battery"
    assert form.context["form"]["mode"].value() == "FM01"
    assert f'<option value="{part.pk}" selected>' in text(form)
    client.post(
        address,
        {
            "complaint": "S2", "component": "remote_battery", "mode": "FM01", "is_failure": "on",
            "action": "replace", "found_at": TYPED_NOW, "parts-TOTAL_FORMS": "4",
            "parts-INITIAL_FORMS": "1", "parts-0-part": str(part.pk), "parts-0-quantity": "1",
        },
    )  # fmt: skip
    trace.refresh_from_db()
    assert trace.fault == Fault.objects.get()
    assert PartUsed.objects.get().part == part


# Inspections


def inspected(client: Client, door: DoorUnit, **values: str):
    data = {"kind": "routine", "inspector": "Kim", "begun_at": TYPED_NOW} | values
    return client.post(reverse("inspection-new", args=[door.serial]), data)


def test_an_inspection_shows_value_limit_source_and_what_follows() -> None:
    door, client = make_door(), signed_in()
    response = inspected(client, door, converter_no_load="30,4", balance_half="-200")
    assert response.status_code == 200, "a comma is no decimal point here"
    response = inspected(client, door, converter_no_load="30.4", balance_half="-200", spring="0")
    page = text(client.get(response.url))
    assert "near its limit" in page
    assert "past its limit" in page
    assert f"door model {door.door_model.code}" in page
    assert "is due now" in page
    assert "C1" in page
    assert FollowUp.objects.get().task.code == "BAL"


def test_an_unusual_value_is_asked_about_once() -> None:
    door, client = make_door(), signed_in()
    response = inspected(client, door, converter_no_load="3.2")
    assert "decimal point" in text(response)
    assert not Inspection.objects.exists()
    inspected(client, door, converter_no_load="3.2", is_confirmed="1")
    assert Measurement.objects.get().value == 3.2


def test_an_impossible_value_is_refused_at_its_field() -> None:
    door, client = make_door(), signed_in()
    response = inspected(client, door, battery_rest="320", is_confirmed="1")
    assert "cannot read 320" in str(response.context["form"].errors["battery_rest"])
    assert not Inspection.objects.exists()


def test_an_inspection_on_an_open_visit_belongs_to_it() -> None:
    visit, client = make_open_visit(), signed_in()
    inspected(client, visit.door, all_as_it_should_be="on")
    assert Inspection.objects.get().visit == visit
    assert "Inspection," in text(client.get(reverse("visit-detail", args=[visit.pk])))


# Drivers' reports and the code on the door


def code_page(door: DoorUnit) -> str:
    return reverse("door-code", args=[spoken(issue_label(door=door, issued_at=NOW).code)])


def test_a_stranger_reports_with_a_photo_and_sees_what_becomes_of_it() -> None:
    door, stranger = make_door(), Client()
    address = code_page(door)
    assert "No account needed" in text(stranger.get(address))
    photo = SimpleUploadedFile("x.png", PNG, content_type="text/html")
    answered = stranger.post(
        address, {"complaint": "S8", "words": "<b>bang</b>", "reporter": "Robin", "photo": photo}
    )
    report = DefectReport.objects.get()
    assert (report.entered_by, report.state) == (None, DefectState.REPORTED)
    kept = Attachment.objects.get()
    assert (kept.content_type, kept.defect_report) == ("image/png", report)
    assert not RoadHold.objects.exists()
    page = text(stranger.get(answered.url))
    assert "Thank you" in page
    assert "<b>bang</b>" not in page
    assert stranger.get(reverse("attachment-file", args=[kept.pk])).status_code == 302
    shown = signed_in().get(reverse("attachment-file", args=[kept.pk]))
    assert shown["Content-Type"] == "image/png"
    assert b"".join(shown.streaming_content) == PNG
    assert (
        signed_in(depots=[make_depot()]).get(reverse("attachment-file", args=[kept.pk])).status_code
        == 404
    )


@pytest.mark.parametrize("content", [b"<script>alert(1)</script>", b""])
def test_what_is_no_picture_is_refused(content: bytes) -> None:
    photo = SimpleUploadedFile("x.png", content, content_type="image/png")
    data = {"complaint": "S1", "reporter": "Robin", "photo": photo}
    response = Client().post(code_page(make_door()), data)
    assert response.status_code == 200
    assert not DefectReport.objects.exists()


def test_too_many_reports_are_refused_with_words() -> None:
    door, stranger = make_door(), Client()
    address = code_page(door)
    for number in range(7):
        response = stranger.post(
            address, {"complaint": "S1", "reporter": "Robin", "words": str(number)}
        )
    assert response.status_code == 429
    assert "tell the depot" in text(response)
    assert DefectReport.objects.count() == 6


def test_a_slip_in_the_code_finds_no_door() -> None:
    label = issue_label(door=make_door(), issued_at=NOW)
    wrong = label.code[:-1] + ("2" if label.code[-1] != "2" else "3")
    response = Client().get(reverse("door-code", args=[wrong]))
    assert response.status_code == 404
    assert "on no door" in text(response)


def test_a_technician_who_scans_goes_straight_to_the_door() -> None:
    door = make_door()
    answered = signed_in().get(code_page(door))
    assert answered.url == reverse("round-door", args=[door.serial])
    assert signed_in(Role.BUYER).get(code_page(door)).status_code == 200


def test_a_report_goes_its_way_and_the_next_driver_acknowledges_it() -> None:
    door, client, stranger = make_door(), signed_in(), Client()
    report = make_defect_report(door=door)
    address = reverse("defect-detail", args=[report.pk])
    refused = client.post(address, {"kind": "unnecessary", "name": "Kim", "reason": ""})
    assert "with a reason" in text(refused)
    client.post(address, {"kind": "unnecessary", "name": "Kim", "reason": "lamp works"})
    client.post(address, {"kind": "certified", "name": "Kim", "role": "technician"})
    code = code_page(door)
    assert "lamp works" in text(stranger.get(code))
    stranger.post(code, {"acknowledge": report.pk, "name": "Next driver"})
    stranger.post(code, {"acknowledge": "abc", "name": "Nobody"})
    report.refresh_from_db()
    assert report.state == DefectState.ACKNOWLEDGED
    assert client.get(address).context["form"] is None


def test_a_report_is_taken_down_for_a_driver() -> None:
    door, client = make_door(), signed_in()
    client.post(reverse("defect-new", args=[door.serial]), {"complaint": "S4", "reporter": "Robin"})
    assert DefectReport.objects.get().entered_by is not None


# Holds and notices


def test_a_hold_is_said_on_every_page_of_its_depot_and_no_other() -> None:
    door = make_door()
    here = signed_in(Role.PLANNER, [door.mountings.get().truck.depot])
    elsewhere = signed_in(Role.PLANNER, [make_depot()])
    here.post(reverse("hold-new", args=[door.serial]), {"because": "not_secured"})
    for page in ("round", "defect-list", "due-list"):
        assert "Not to be driven: " in text(here.get(reverse(page)))
        assert "Not to be driven: " not in text(elsewhere.get(reverse(page)))
    hold = RoadHold.objects.get()
    address = reverse("hold-lift", args=[hold.pk])
    assert hold.lifted_at is None
    page = text(here.post(address, {"what_was_done": "", "signed_by": "Kim"}))
    assert "required" in page
    here.post(address, {"what_was_done": "new latch", "signed_by": "Kim"})
    assert "Not to be driven: " not in text(here.get(reverse("defect-list")))


def test_spring_damage_is_lifted_by_a_trained_person_only() -> None:
    hold = make_hold()
    person = make_user()
    client = Client()
    client.force_login(person)
    data = {"what_was_done": "new spring", "signed_by": "Kim"}
    address = reverse("hold-lift", args=[hold.pk])
    assert "trained and authorized" in text(client.post(address, data))
    make_spring_word(person=person, until_on=NOW.date() + timedelta(days=3650))
    client.post(address, data)
    hold.refresh_from_db()
    assert hold.signed_by == "Kim"


def test_a_report_raises_its_question_and_a_buyer_reads_it_without_a_link() -> None:
    report = make_defect_report()
    link = reverse("defect-detail", args=[report.pk])
    assert link in text(signed_in().get(reverse("due-list")))
    page = text(signed_in(Role.BUYER).get(reverse("due-list")))
    assert "A driver says" in page
    assert link not in page


def test_many_holds_are_cut_short_with_a_way_to_all() -> None:
    for _each in range(6):
        make_hold()
    make_hold(because="reverse")
    page = text(signed_in().get(reverse("due-list")))
    assert page.count("spring or lift cable damaged") == 4
    assert "2 more" in page
    assert "Door not to be powered: " in page


def test_a_follow_up_is_dropped_with_a_reason() -> None:
    follow_up, client = make_follow_up(), signed_in()
    address = reverse("follow-up-drop", args=[follow_up.pk])
    client.post(address, {"reason": " "})
    follow_up.refresh_from_db()
    assert follow_up.closed_at is None
    client.post(address, {"reason": "measured again, holds"})
    follow_up.refresh_from_db()
    assert follow_up.closing_reason == "measured again, holds"


# Labels


def test_labels_are_made_once_and_printed_with_picture_and_words() -> None:
    depot = make_depot()
    door, client = make_door(depot=depot), signed_in()
    make_door()
    address = reverse("labels") + f"?depot={depot.code}"
    assert "has no label yet" in text(client.get(address))
    assert not DoorLabel.objects.exists()
    client.post(address)
    client.post(address)
    label = DoorLabel.objects.get()
    assert label.door == door
    page = text(client.get(address))
    assert spoken(label.code) in page
    assert page.count("<svg") >= 2
    assert "style=" not in page


# Pages stay quick


@pytest.mark.parametrize(
    "name",
    ["round", "visit-detail", "trace", "defect-list", "labels", "visit-close", "inspection-detail"],
)
def test_no_page_asks_more_often_when_rows_triple(name: str) -> None:
    depot = make_depot()
    door = make_door(depot=depot)
    visit = make_open_visit(door=door)
    trace = make_trace(door=door, visit=visit)
    client = signed_in()
    keys = {"visit-detail": [visit.pk], "visit-close": [visit.pk], "trace": [trace.pk]}
    inspection = make_inspection(door=door, visit=visit)
    keys["inspection-detail"] = [inspection.pk]
    address = reverse(name, args=keys.get(name, []))
    counts, quantities = [], iter(QUANTITIES)
    for times in (4, 8):
        for _each in range(times):
            other = make_door(depot=depot)
            issue_label(door=other, issued_at=NOW)
            make_hold(door=other)
            make_defect_report(door=other)
            make_part(component=component("fuse"))
            make_inspection(door=door, visit=visit)
            make_visit(door=other, planned_on=NOW.date()).jobs.create(kind="task", task=task("LUB"))
            quantity = next(quantities)
            make_measurement(inspection=inspection, quantity=quantity, judgement="past")
            visit.jobs.create(
                kind="fault", fault=make_fault(door=other, component=component("motor"))
            )
        with CaptureQueriesContext(connection) as queries:
            assert client.get(address).status_code == 200
        counts.append(len(queries))
    assert counts[0] == counts[1]
