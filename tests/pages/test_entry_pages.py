"""What a technician, planner or buyer enters by hand, page by page."""

from datetime import datetime, timedelta
from urllib.parse import unquote
from zoneinfo import ZoneInfo

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from fleetdoors.models import Counter, Depot, DoorUnit, Fitment, Role, User
from inspections.models import CounterReading, Fault, PartUsed, StockCount, TaskDone
from tests.factories import (
    component,
    make_counter,
    make_depot,
    make_door,
    make_door_model,
    make_fault,
    make_fitment,
    make_part,
    make_part_used,
    make_reading,
    make_stock_count,
    make_task_done,
    make_user,
    task,
)

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("recompute_requests")]
WRITERS = [Role.TECHNICIAN, Role.PLANNER, Role.ADMINISTRATOR]
DOOR_PAGES = ["reading-new", "fault-new", "task-done-new", "counter-exchange"]
PART_ROWS = {"parts-TOTAL_FORMS": "4", "parts-INITIAL_FORMS": "0"}


def client_of(user: User) -> Client:
    client = Client()
    client.force_login(user)
    return client


def signed_in(role: Role = Role.TECHNICIAN, depots: list[Depot] | None = None) -> Client:
    return client_of(make_user(role=role, depots=depots or []))


def typed(moment: datetime) -> str:
    return moment.strftime("%Y-%m-%dT%H:%M")


def minutes_ago(minutes: int) -> datetime:
    return timezone.now().replace(second=0, microsecond=0) - timedelta(minutes=minutes)


def page(response) -> str:
    return response.content.decode()


# Who gets in


@pytest.mark.parametrize("name", DOOR_PAGES)
def test_strangers_are_sent_to_sign_in(name: str) -> None:
    response = Client().get(reverse(name, args=[make_door().serial]))
    assert response.url.startswith(reverse("sign-in"))


@pytest.mark.parametrize("name", DOOR_PAGES)
@pytest.mark.parametrize("role", list(Role))
def test_technician_and_planner_enter_and_a_buyer_does_not(name: str, role: Role) -> None:
    response = signed_in(role).get(reverse(name, args=[make_door().serial]))
    assert response.status_code == (200 if role in WRITERS else 403)
    assert "<h1>" in page(response)


@pytest.mark.parametrize("name", DOOR_PAGES)
def test_a_door_of_another_depot_is_not_there(name: str) -> None:
    door = make_door()
    client = signed_in(depots=[make_depot()])
    assert client.get(reverse(name, args=[door.serial])).status_code == 404
    assert client.post(reverse(name, args=[door.serial]), {}).status_code == 404


@pytest.mark.parametrize("name", DOOR_PAGES)
@pytest.mark.parametrize("serial", ["A/12 3", "50%?#", "..", "~2F", "<b>x</b>"])
def test_an_odd_serial_opens_its_page(name: str, serial: str) -> None:
    make_door(serial=serial)
    address = reverse(name, args=[serial])
    response = signed_in().get(address)
    assert response.status_code == 200
    assert "<b>x</b>" not in page(response)
    assert unquote(address).count("/") == address.count("/")


@pytest.mark.parametrize(
    "name", ["reading-saved", "reading-accept", "reading-correct", "reading-hold", "fault-detail",
             "fault-correct", "task-done-correct"]
)  # fmt: skip
def test_a_row_of_another_depot_is_not_there(name: str) -> None:
    door = make_door()
    rows = {
        "reading": make_reading(door=door, counter_value=5),
        "fault": make_fault(door=door, complaint="S1"),
        "task": make_task_done(door=door, task=task("LUB")),
    }
    address = reverse(name, args=[rows[name.partition("-")[0]].pk])
    client = signed_in(Role.PLANNER, depots=[make_depot()])
    assert client.post(address, {"reason": "x", "counter_value": "6"}).status_code == 404
    assert CounterReading.objects.count() == 1


@pytest.mark.parametrize("name", ["reading-accept", "reading-hold"])
def test_a_ruling_is_posted_by_those_who_write(name: str) -> None:
    address = reverse(name, args=[make_reading(door=make_door(), counter_value=5).pk])
    assert signed_in().get(address).status_code == 405
    assert signed_in(Role.BUYER).post(address).status_code == 403
    assert CounterReading.objects.count() == 1


@pytest.mark.parametrize("role", list(Role))
def test_everyone_of_the_depot_sees_what_was_entered(role: Role) -> None:
    door = make_door()
    reading = make_reading(door=door, counter_value=5)
    fault = make_fault(door=door, complaint="S1")
    client = signed_in(role)
    for address in (
        reverse("reading-saved", args=[reading.pk]),
        reverse("fault-detail", args=[fault.pk]),
    ):
        response = client.get(address)
        assert response.status_code == 200
        assert ("Correct it" in page(response)) == (role in WRITERS)


# A reading


def test_a_reading_takes_digits_and_save() -> None:
    door, person = make_door(), make_user(username="kim")
    client = client_of(person)
    response = client.get(reverse("reading-new", args=[door.serial]))
    assert 'inputmode="numeric"' in page(response)
    moment = response.context["form"]["read_at"].value()
    assert abs(moment - timezone.now().replace(tzinfo=None)) < timedelta(minutes=2)
    answer = client.post(
        reverse("reading-new", args=[door.serial]),
        {"counter_value": " 041 872 ", "read_at": typed(moment)},
    )
    reading = CounterReading.objects.get()
    assert answer.url == reverse("reading-saved", args=[reading.pk])
    assert (reading.counter_value, reading.entered_by, reading.read_by) == (41_872, person, "kim")


def test_nothing_expected_is_shown_before_entry() -> None:
    door = make_door()
    make_reading(door=door, counter_value=41_790, read_at=minutes_ago(9_000))
    assert "41790" not in page(signed_in().get(reverse("reading-new", args=[door.serial])))


def test_after_entry_stand_what_was_kept_and_the_reading_before() -> None:
    door = make_door()
    make_reading(door=door, counter_value=41_790, read_at=minutes_ago(9_000))
    reading = make_reading(door=door, counter_value=41_872, read_at=minutes_ago(5))
    text = page(signed_in().get(reverse("reading-saved", args=[reading.pk])))
    assert "41872" in text
    assert "41790" in text
    assert f'hx-get="{reverse("reading-answer", args=[reading.pk])}"' in text
    assert f'<a href="{reverse("reading-answer", args=[reading.pk])}"' in text


def test_the_moment_is_by_the_depots_clock() -> None:
    door = make_door(depot=make_depot(timezone="America/Chicago"))
    client = signed_in()
    chicago = minutes_ago(30).astimezone(ZoneInfo("America/Chicago"))
    client.post(
        reverse("reading-new", args=[door.serial]),
        {"counter_value": "5", "read_at": typed(chicago)},
    )
    assert CounterReading.objects.get().read_at == chicago
    form = page(client.get(reverse("reading-new", args=[door.serial])))
    assert f'value="{typed(timezone.now().astimezone(ZoneInfo("America/Chicago")))[:13]}' in form
    assert timezone.get_current_timezone_name() == "UTC"


@pytest.mark.parametrize("moment", ["2025-11-02T01:30", "2026-03-08T02:30"])
def test_an_hour_that_the_clocks_repeat_or_skip_is_no_reason_to_refuse(moment: str) -> None:
    door = make_door(depot=make_depot(timezone="America/Chicago"))
    signed_in().post(
        reverse("reading-new", args=[door.serial]), {"counter_value": "5", "read_at": moment}
    )
    assert CounterReading.objects.count() == 1


@pytest.mark.parametrize(
    ("value", "message"),
    [
        ("-5", "below 0"),
        ("12a", "has something else in it"),
        ("١٢", "has something else in it"),
        ("12.5", "has something else in it"),
        ("1234567", "6 digits"),
        ("", "required"),
    ],
)
def test_a_value_that_no_counter_shows_is_explained_and_kept(value: str, message: str) -> None:
    door = make_door()
    moment = typed(minutes_ago(5))
    response = signed_in().post(
        reverse("reading-new", args=[door.serial]), {"counter_value": value, "read_at": moment}
    )
    text = page(response)
    assert response.status_code == 200
    assert message in text
    assert f'value="{value}"' in text
    assert f'value="{moment}"' in text
    assert not CounterReading.objects.exists()


@pytest.mark.parametrize(
    ("moment", "message"),
    [
        ("2099-01-01T00:00", "in the future"),
        ("0001-01-01T00:00", "between the years"),
        ("yesterday", "is not"),
        ("", "required"),
    ],
)
def test_a_moment_that_cannot_be_is_explained_and_the_digits_kept(
    moment: str, message: str
) -> None:
    response = signed_in().post(
        reverse("reading-new", args=[make_door().serial]),
        {"counter_value": "41872", "read_at": moment},
    )
    text = page(response)
    assert message in text
    assert 'value="41872"' in text
    assert not CounterReading.objects.exists()


def test_a_counter_lower_than_before_is_kept() -> None:
    door = make_door()
    make_reading(door=door, counter_value=41_790, read_at=minutes_ago(9_000))
    signed_in().post(
        reverse("reading-new", args=[door.serial]),
        {"counter_value": "12", "read_at": typed(minutes_ago(5))},
    )
    assert CounterReading.objects.filter(counter_value=12).exists()


def test_the_counters_own_digits_count() -> None:
    door = make_door(door_model=make_door_model(counter_digits=6))
    make_counter(door=door, digits=5)
    text = page(signed_in().get(reverse("reading-new", args=[door.serial])))
    assert 'maxlength="5"' in text


def test_saving_twice_keeps_one_reading() -> None:
    door, client = make_door(), signed_in()
    data = {"counter_value": "5", "read_at": typed(minutes_ago(5))}
    first = client.post(reverse("reading-new", args=[door.serial]), data)
    second = client.post(reverse("reading-new", args=[door.serial]), data)
    assert first.url == second.url
    assert CounterReading.objects.count() == 1


def test_another_value_for_the_same_moment_asks_before_it_corrects() -> None:
    door, client = make_door(), signed_in()
    old = make_reading(door=door, counter_value=5, read_at=minutes_ago(5))
    data = {"counter_value": "6", "read_at": typed(old.read_at)}
    asked = client.post(reverse("reading-new", args=[door.serial]), data)
    question, ordinary = page(asked).split("Is this a correction?")[1].split("</form>")[:2]
    assert 'name="is_correction"' in question
    assert '<input type="hidden" name="counter_value" value="6">' in question
    # The Enter key presses a form's first button: it must not be the one that corrects.
    assert "is_correction" not in ordinary
    assert CounterReading.objects.get().counter_value == 5
    client.post(reverse("reading-new", args=[door.serial]), {**data, "is_correction": "1"})
    new = CounterReading.objects.in_force().get()
    assert (new.counter_value, new.corrects) == (6, old)


def test_correcting_a_reading_keeps_the_old_one_visible() -> None:
    reading = make_reading(door=make_door(), counter_value=47_812, read_at=minutes_ago(500))
    client = signed_in()
    address = reverse("reading-correct", args=[reading.pk])
    assert 'value="47812"' in page(client.get(address))
    answer = client.post(
        address,
        {"counter_value": "41872", "read_at": typed(reading.read_at), "reason": "digits swapped"},
    )
    new = CounterReading.objects.in_force().get()
    assert answer.url == reverse("reading-saved", args=[new.pk])
    text = page(client.get(answer.url))
    assert '<del class="struck">47812</del>' in text
    assert "digits swapped" in text
    old_page = page(client.get(reverse("reading-saved", args=[reading.pk])))
    assert reverse("reading-saved", args=[new.pk]) in old_page
    assert "Correct it" not in old_page


def test_a_correction_without_a_moment_keeps_it_to_the_second() -> None:
    reading = make_reading(door=make_door(), counter_value=5, read_at=timezone.now())
    for moment in ("", typed(reading.read_at)):
        newest = CounterReading.objects.in_force().get()
        signed_in().post(
            reverse("reading-correct", args=[newest.pk]),
            {"counter_value": str(newest.counter_value + 1), "read_at": moment, "reason": "x"},
        )
    assert CounterReading.objects.in_force().get().read_at == reading.read_at


@pytest.mark.parametrize(
    ("value", "reason", "message"),
    [("12a", "typo", "something else"), ("6", "", "required"), ("6", "typo", "corrected before")],
)
def test_a_correction_that_cannot_be_keeps_what_was_typed(
    value: str, reason: str, message: str
) -> None:
    reading = make_reading(door=make_door(), counter_value=5, read_at=minutes_ago(5))
    if message == "corrected before":
        make = {"counter_value": "8", "reason": "first"}
        signed_in().post(reverse("reading-correct", args=[reading.pk]), make)
    before = CounterReading.objects.count()
    response = signed_in().post(
        reverse("reading-correct", args=[reading.pk]), {"counter_value": value, "reason": reason}
    )
    assert message in page(response)
    assert f'value="{value}"' in page(response)
    assert CounterReading.objects.count() == before


@pytest.mark.parametrize(
    ("name", "word"), [("reading-accept", "accepted"), ("reading-hold", "held")]
)
def test_a_ruling_returns_to_the_page_it_came_from(name: str, word: str) -> None:
    reading = make_reading(door=make_door(), counter_value=5)
    response = signed_in().post(
        reverse(name, args=[reading.pk]), {"next": "/settle/", "reason": "looked"}
    )
    ruled = CounterReading.objects.in_force().get()
    assert response.url == "/settle/"
    assert (ruled.ruling, ruled.status, ruled.reason) == (word, word, "looked")


@pytest.mark.parametrize("elsewhere", ["https://example.org/", "//example.org/", ""])
def test_a_ruling_never_leads_off_the_site(elsewhere: str) -> None:
    reading = make_reading(door=make_door(), counter_value=5)
    response = signed_in().post(reverse("reading-hold", args=[reading.pk]), {"next": elsewhere})
    ruled = CounterReading.objects.in_force().get()
    assert response.url == reverse("reading-saved", args=[ruled.pk])


def test_a_ruling_on_a_value_that_was_corrected_meanwhile_is_refused_in_words() -> None:
    reading = make_reading(door=make_door(), counter_value=5)
    client = signed_in()
    client.post(
        reverse("reading-correct", args=[reading.pk]), {"counter_value": "6", "reason": "typo"}
    )
    response = client.post(reverse("reading-hold", args=[reading.pk]))
    assert response.status_code == 409
    assert "corrected before" in page(response)


# A fault


def test_a_fault_begins_with_what_the_driver_said() -> None:
    door = make_door()
    recent = make_fault(door=door, complaint="S4", found_at=minutes_ago(900))
    text = page(signed_in().get(reverse("fault-new", args=[door.serial])))
    assert '?complaint=S13"' in text
    assert reverse("fault-detail", args=[recent.pk]) in text
    assert "not known yet" not in text


def test_the_likely_components_come_first_and_the_caution_with_them() -> None:
    door = make_door()
    text = page(signed_in().get(reverse("fault-new", args=[door.serial]) + "?complaint=S8"))
    most_often = text[text.index("Most often") : text.index("All others")]
    assert 'value="spring"' in most_often
    assert 'value="fuse"' not in most_often
    assert "Do not run it; tag it out." in text
    assert "instructions and local rules come first" in text


@pytest.mark.parametrize(
    ("code", "own_mode", "other_mode", "caution"),
    [
        ("spring", "FM25", "FM14", ">C8<"),
        ("lift_cable", "FM27", "FM25", ">C8<"),
        ("coil_cable", "FM14", "FM25", ">C4<"),
        ("fuse", "FM10", "FM11", ">C5<"),
    ],
)
def test_a_component_narrows_the_modes_and_brings_its_cautions(
    code: str, own_mode: str, other_mode: str, caution: str
) -> None:
    response = signed_in().get(reverse("fault-advice"), {"component": code, "complaint": "S10"})
    text = page(response)
    assert f'value="{own_mode}"' in text
    assert f'value="{other_mode}"' not in text
    assert caution in text
    assert ">C10<" in text
    assert "<html" not in text


def test_the_advice_survives_codes_that_do_not_exist() -> None:
    response = signed_in().get(reverse("fault-advice"), {"component": "x", "complaint": "S99"})
    assert response.status_code == 200


def test_a_fault_with_a_part_changes_the_record_at_once() -> None:
    depot, cable = make_depot(), component("coil_cable")
    door, part = make_door(depot=depot), make_part(component=cable)
    old = make_fitment(door=door, component=cable, fitted_at_cycles=10)
    response = signed_in().post(
        reverse("fault-new", args=[door.serial]),
        {
            **PART_ROWS,
            "complaint": "S10",
            "component": "coil_cable",
            "mode": "FM14",
            "is_failure": "on",
            "action": "replace",
            "found_at": typed(minutes_ago(5)),
            "at_cycles": "30500",
            "parts-0-part": str(part.pk),
            "parts-0-quantity": "1",
            "parts-0-removal": "failed",
        },
    )
    fault = Fault.objects.get()
    assert response.url == reverse("fault-detail", args=[fault.pk])
    assert (fault.component, fault.mode, fault.is_failure) == (cable, "FM14", True)
    assert PartUsed.objects.get().draws_on_stock
    old.refresh_from_db()
    assert (old.removal, old.removed_at_cycles) == ("failed", 30_500)
    assert Fitment.objects.get(removal="").part == part
    assert "1 × " in page(signed_in().get(response.url))


def test_a_failure_mode_alone_says_which_component_it_was() -> None:
    signed_in().post(
        reverse("fault-new", args=[make_door().serial]),
        {**PART_ROWS, "mode": "FM25", "found_at": typed(minutes_ago(5))},
    )
    fault = Fault.objects.get()
    assert (fault.component.code, fault.is_failure) == ("spring", False)


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"complaint": "", "component": ""}, "both are empty"),
        ({"component": "fuse", "mode": "FM25"}, "is not one of Fuse"),
        ({"component": "no-such"}, "Select a valid choice"),
        ({"found_at": "2099-01-01T00:00"}, "in the future"),
        ({"off_road_until": "2026-01-01T00:00"}, "needs its beginning"),
        ({"at_cycles": "-4"}, "greater than or equal to 0"),
        ({"parts-0-quantity": "-1"}, "greater than or equal to 1"),
        ({"parts-0-part": "999999"}, "Select a valid choice"),
        ({"parts-0-quantity": ""}, "how many pieces"),
        ({"parts-0-part": "", "parts-0-removal": "failed"}, "which part it was"),
        ({"parts-0-removal": "failed", "at_cycles": ""}, "needs lifetime cycles"),
    ],
)
def test_a_fault_that_contradicts_itself_is_explained_and_kept_as_typed(
    change: dict[str, str], message: str
) -> None:
    door, part = make_door(), make_part(component=component("fuse"))
    data = {
        **PART_ROWS,
        "complaint": "S1",
        "found_at": typed(minutes_ago(5)),
        "at_cycles": "77",
        "note": "rain all night",
        "parts-0-part": str(part.pk),
        "parts-0-quantity": "2",
        **change,
    }
    text = page(signed_in().post(reverse("fault-new", args=[door.serial]), data))
    assert message in text
    assert "rain all night" in text
    if "at_cycles" not in change:
        assert 'value="77"' in text
    if "parts-0-part" not in change:
        assert f'value="{part.pk}" selected' in text
    assert not Fault.objects.exists()
    assert not PartUsed.objects.exists()


def test_a_fault_form_without_its_part_rows_is_explained() -> None:
    response = signed_in().post(
        reverse("fault-new", args=[make_door().serial]),
        {"complaint": "S1", "found_at": typed(minutes_ago(5))},
    )
    assert response.status_code == 200
    assert not Fault.objects.exists()


def test_a_fault_is_corrected_with_a_reason_and_both_stay_visible() -> None:
    old = make_fault(
        door=make_door(), component=component("spring"), mode="FM24", found_at=timezone.now()
    )
    client = signed_in()
    address = reverse("fault-correct", args=[old.pk])
    assert 'value="FM24" selected' in page(client.get(address))
    data = {"component": "spring", "mode": "FM25", "found_at": typed(old.found_at)}
    refused = client.post(address, data)
    assert "required" in page(refused)
    answer = client.post(address, {**data, "reason": "gap in the coil"})
    new = Fault.objects.in_force().get()
    assert (new.corrects, new.mode, new.found_at) == (old, "FM25", old.found_at)
    text = page(client.get(answer.url))
    assert "gap in the coil" in text
    assert '<del class="struck">' in text
    again = client.post(address, {**data, "reason": "again"})
    assert "corrected before" in page(again)


# A task


def test_a_task_is_chosen_then_saved_and_its_cautions_stand_beside_it() -> None:
    door, client = make_door(), signed_in()
    address = reverse("task-done-new", args=[door.serial])
    assert "?task=LUB" in page(client.get(address))
    text = page(client.get(address + "?task=LUB"))
    assert text.index(">C3<") < text.index(">C7<") < text.index(">C10<")
    answer = client.post(
        address + "?task=LUB", {"done_at": typed(minutes_ago(5)), "done_by": "Kim"}
    )
    done = TaskDone.objects.get()
    assert (done.task.code, done.done_by, done.at_cycles) == ("LUB", "Kim", None)
    assert answer.url == reverse("door-detail", args=[door.serial])


def test_an_unknown_task_is_not_there() -> None:
    address = reverse("task-done-new", args=[make_door().serial])
    assert signed_in().get(address + "?task=XXX").status_code == 404


@pytest.mark.parametrize(
    ("change", "message"),
    [({"done_at": "2099-01-01T00:00"}, "in the future"), ({"at_cycles": "9"}, "at least the 1000")],
)
def test_work_that_cannot_have_been_done_is_explained_and_kept_as_typed(
    change: dict[str, str], message: str
) -> None:
    address = reverse("task-done-new", args=[make_door(opening_cycles=1_000).serial])
    data = {"done_at": typed(minutes_ago(5)), "done_by": "Kim of bay 2", **change}
    text = page(signed_in().post(address + "?task=LUB", data))
    assert message in text
    assert "Kim of bay 2" in text
    assert not TaskDone.objects.exists()


def test_work_done_is_corrected_with_a_reason() -> None:
    old = make_task_done(door=make_door(), task=task("LUB"), done_at=timezone.now())
    client = signed_in()
    address = reverse("task-done-correct", args=[old.pk])
    data = {"task": str(task("COI").pk), "done_at": typed(old.done_at), "reason": "other task"}
    assert client.get(address).status_code == 200
    client.post(address, data)
    new = TaskDone.objects.in_force().get()
    assert (new.corrects, new.task.code, new.done_at) == (old, "COI", old.done_at)
    assert "corrected before" in page(client.post(address, data))
    assert "other task" in page(client.get(reverse("task-done-correct", args=[new.pk])))


# A counter


def test_a_counter_is_exchanged() -> None:
    door = make_door()
    make_counter(door=door, serial="OLD-1")
    client = signed_in()
    address = reverse("counter-exchange", args=[door.serial])
    assert "OLD-1" in page(client.get(address))
    data = {"exchanged_on": "2026-03-01", "last_value": "4500", "serial": "N", "first_value": "3"}
    assert client.post(address, data).url == reverse("door-detail", args=[door.serial])
    new = Counter.objects.get(removed_on=None)
    assert (new.serial, new.first_value, new.digits) == ("N", 3, None)
    assert Counter.objects.get(serial="OLD-1").last_value == 4_500


def test_a_counter_without_a_row_begins_with_the_first_reading() -> None:
    door = make_door(record_from=None)
    moment = datetime(2026, 1, 15, 9, tzinfo=ZoneInfo("UTC"))
    make_reading(door=door, counter_value=7, read_at=moment)
    data = {"exchanged_on": "2026-03-01", "last_value": "4500", "serial": "N", "first_value": "0"}
    signed_in().post(reverse("counter-exchange", args=[door.serial]), data)
    assert Counter.objects.exclude(removed_on=None).get().fitted_on == moment.date()


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"exchanged_on": "2099-01-01"}, "not dated ahead"),
        ({"exchanged_on": "2020-01-01"}, "went on on"),
        ({"last_value": "1234567"}, "6 digits"),
        ({"serial": "OLD-1"}, "has been on"),
        ({"first_value": "-1"}, "greater than or equal to 0"),
    ],
)
def test_an_exchange_that_cannot_be_is_explained_and_kept_as_typed(
    change: dict[str, str], message: str
) -> None:
    door = make_door()
    make_counter(door=door, serial="OLD-1")
    data = {"exchanged_on": "2026-03-01", "last_value": "4500", "serial": "N-77",
            "first_value": "3", **change}  # fmt: skip
    text = page(signed_in().post(reverse("counter-exchange", args=[door.serial]), data))
    assert message in text
    assert f'value="{data["serial"]}"' in text
    assert Counter.objects.get().removed_on is None


# Stock


@pytest.mark.parametrize("role", list(Role))
def test_everyone_sees_the_stock_and_the_stores_count_it(role: Role) -> None:
    depot, part = make_depot(), make_part(name="Coil cable, 5 m")
    make_stock_count(depot=depot, part=part, on_hand=7)
    client = signed_in(role)
    address = reverse("stock-count", args=[depot.code])
    text = page(client.get(address))
    assert "Coil cable, 5 m" in text
    counts = role in (Role.BUYER, Role.TECHNICIAN, Role.ADMINISTRATOR)
    assert ("Count a part" in text) == counts
    data = {"part": part.pk, "on_hand": "9", "counted_at": typed(minutes_ago(0)),
            "difference_reason": "found two"}  # fmt: skip
    answer = client.post(reverse("stock-count-new", args=[depot.code]), data)
    assert answer.status_code == (302 if counts else 403)
    assert StockCount.objects.count() == (2 if counts else 1)


def test_the_stock_of_another_depot_is_not_there() -> None:
    client = signed_in(Role.BUYER, depots=[make_depot()])
    assert client.get(reverse("stock-count", args=[make_depot().code])).status_code == 404


def test_a_depot_without_a_count_says_what_to_do_first() -> None:
    response = signed_in(Role.BUYER).get(reverse("stock-count", args=[make_depot().code]))
    assert "Count the first one" in page(response)


def test_stock_below_zero_is_told_and_the_service_level_is_in_per_cent() -> None:
    depot, part = make_depot(code="NORTH/1"), make_part()
    client = signed_in(Role.BUYER)
    address = reverse("stock-count", args=[depot.code])
    client.post(
        reverse("stock-count-new", args=[depot.code]),
        {"part": part.pk, "on_hand": "1", "service_level": "97.5",
         "counted_at": typed(minutes_ago(60))},
    )  # fmt: skip
    assert StockCount.objects.get().service_level == 0.975
    make_part_used(door=make_door(), part=part, quantity=4, used_at=minutes_ago(5), depot=depot,
                   draws_on_stock=True)  # fmt: skip
    assert "-3, used more than counted" in page(client.get(address))


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"on_hand": "-3"}, "greater than or equal to 0"),
        ({"on_hand": "many"}, "whole number"),
        ({"service_level": "100"}, "less than or equal to 99.99"),
        ({"service_level": "nan"}, "number"),
        ({"counted_at": "2099-01-01T00:00"}, "in the future"),
        ({"part": "999999"}, "valid choice"),
    ],
)
def test_a_count_that_cannot_be_is_explained_and_kept_as_typed(
    change: dict[str, str], message: str
) -> None:
    depot, part = make_depot(), make_part()
    data = {"part": part.pk, "on_hand": "12", "on_order": "34",
            "counted_at": typed(minutes_ago(5)), **change}  # fmt: skip
    address = reverse("stock-count-new", args=[depot.code])
    text = page(signed_in(Role.BUYER).post(address, data))
    assert message in text
    assert 'value="34"' in text
    assert not StockCount.objects.exists()


# The cost of a page


def cost(client: Client, address: str) -> int:
    with CaptureQueriesContext(
        connection,
    ) as queries:
        assert client.get(address).status_code == 200
    return len(queries)


def triple(door: DoorUnit, depot: Depot, start: int) -> None:
    """More of everything that the pages list."""
    for number in range(start, start + 4):
        moment = minutes_ago(100 + number)
        make_reading(door=door, counter_value=number, read_at=moment)
        make_fault(door=door, complaint="S1", found_at=moment)
        part = make_part(component=component("fuse"))
        make_stock_count(depot=depot, part=part, on_hand=number)
        make_fitment(door=door, component=component("roller"), position=f"{number}")
        make_task_done(door=door, task=task("LUB"), done_at=moment)


def test_pages_ask_the_database_no_more_often_when_rows_triple() -> None:
    depot = make_depot()
    door = make_door(depot=depot)
    triple(door, depot, 0)
    reading = make_reading(door=door, counter_value=900, read_at=minutes_ago(1))
    fault = make_fault(door=door, complaint="S1", found_at=minutes_ago(100))
    client = signed_in(Role.ADMINISTRATOR)
    addresses = [
        *(reverse(name, args=[door.serial]) for name in DOOR_PAGES),
        reverse("fault-new", args=[door.serial]) + "?complaint=S1",
        reverse("task-done-new", args=[door.serial]) + "?task=LUB",
        reverse("reading-saved", args=[reading.pk]),
        reverse("reading-correct", args=[reading.pk]),
        reverse("fault-detail", args=[fault.pk]),
        reverse("fault-correct", args=[fault.pk]),
        reverse("stock-count", args=[depot.code]),
    ]
    before = [cost(client, address) for address in addresses]
    triple(door, depot, 10)
    triple(door, depot, 20)
    assert [cost(client, address) for address in addresses] == before
    # Three of them ask what is said on every page of the depot; stock is put together of much.
    assert max(before) <= 20
