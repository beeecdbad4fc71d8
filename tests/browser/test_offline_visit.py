"""A visit without a signal, from its beginning to the sign-off, in a phone's Chromium."""

from __future__ import annotations

from pathlib import Path

import pytest
from playwright.sync_api import Page, expect
from pytest_django.fixtures import Settings

from fleetdoors.models import DoorUnit, Role, User
from inspections.models import (
    DeviceEntry,
    EntryOutcome,
    Fault,
    FinalCheck,
    Inspection,
    PartUsed,
    RoadHold,
    Visit,
    VisitState,
)
from inspections.services.phone_pins import set_pin
from tests.browser.own_phone import OwnPhone, started_phone
from tests.browser.test_offline import (
    LOWEST_TARGET,
    Phone,
    no_barrier,
    open_round,
    wait_for_waiting,
)
from tests.factories import (
    NOW,
    component,
    make_depot,
    make_door,
    make_fault,
    make_part,
    make_truck,
    make_user,
    task,
)
from tests.truck_factories import make_hold, make_open_visit, make_visit

TARGETS = (
    "main :is(a, button, input:not([type=hidden]):not([type=checkbox]):not([type=radio]), "
    "select, summary):visible"
)

OPEN_TICKS = "li[data-tick] > form[data-kind=tick] button:visible"


@pytest.fixture
def phone(
    live_server: object,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    settings: Settings,
    recompute_requests: object,
) -> Phone:
    """Starts the phone, each time with the same profile."""
    monkeypatch.setenv("DJANGO_ALLOW_ASYNC_UNSAFE", "1")
    settings.MEDIA_ROOT = tmp_path / "media"
    return lambda: started_phone(tmp_path / "profile", live_server.url)  # type: ignore[attr-defined]


@pytest.fixture
def kim(live_server: object) -> User:
    return make_user(username="kim")


@pytest.fixture
def door(live_server: object, recompute_requests: object) -> DoorUnit:
    depot = make_depot()
    return make_door(serial="D-1", truck=make_truck(fleet_number="T-1", depot=depot))


def visit_page(phone: OwnPhone, door: DoorUnit) -> Page:
    phone.page.goto(f"{phone.site}/round/doors/{door.serial}/visit/")
    phone.page.wait_for_selector("html[data-visit=ready]", state="attached")
    return phone.page


def stands(page: Page, state: str) -> None:
    page.wait_for_selector(f'#visit-page[data-state="{state}"]', state="attached")


def begin(page: Page, *jobs: str) -> None:
    for job in jobs:
        page.locator("[data-view=none]").get_by_label(job).check()
    page.locator("[data-view=none]").get_by_role("button", name="Begin the visit").click()
    stands(page, "open")


def set_ticks(page: Page) -> None:
    open_ticks = page.locator(OPEN_TICKS)
    while count := open_ticks.count():
        open_ticks.first.click()
        expect(open_ticks).to_have_count(count - 1)


def pass_final_check(page: Page) -> None:
    page.get_by_role("link", name="Final check").click()
    stands(page, "check")
    for item in FinalCheck.ITEMS:
        page.locator(f"[data-view=check] [name={item}][value=yes]").check()
    page.get_by_role("button", name="Save the check").click()
    stands(page, "open")
    expect(page.locator("[data-view=open] [data-list=check-state]")).to_have_text(
        "The final check has passed."
    )


def open_all(page: Page) -> None:
    page.locator("details").evaluate_all("all => all.forEach((each) => { each.open = true; })")


def close(page: Page) -> None:
    page.get_by_role("link", name="Close and sign").click()
    stands(page, "close")


def targets_are_large(page: Page) -> None:
    small = {
        each.inner_text() or str(each.get_attribute("name")): box["height"]
        for each in page.locator(TARGETS).all()
        if (box := each.bounding_box()) and box["height"] < LOWEST_TARGET
    }
    assert small == {}


def test_a_visit_nobody_planned_is_lived_through_and_arrives_once(
    phone: Phone, kim: User, door: DoorUnit
) -> None:
    fault = make_fault(door=door, complaint="S1", component=component("fuse"))
    make_part(part_number="F-20", name="Fuse", component=component("fuse"))
    key = f"fault-{fault.pk}"
    with phone() as before:
        open_round(before, kim)
        before.lose_signal()
        work_through(before, door)
        half_close(before.page, key)
        # What was typed outlives a reload.
        before.page.reload()
        stands(before.page, "close")
        expect(before.page.locator(f"[name={key}-mechanism]")).to_have_value("heat")
        # And the steps taken a browser that lost its notes.
        before.page.evaluate("localStorage.clear()")
        before.kill()
        before.errors.clear()
    with phone() as after:
        after.lose_signal()
        page = visit_page(after, door)
        close(page)
        pick(page, key)
        page.locator(f"[data-job={key}] summary").first.click()
        page.locator(f"[name={key}-parts-0-part]").select_option(index=1)
        page.get_by_role("button", name="Close the visit").click()
        stands(page, "ended")
        expect(page.locator("#visit-state")).to_contain_text("Closed on this phone")
        no_barrier(page)
        assert not Visit.objects.exists()
        after.sign_in(kim)
        after.find_signal()
        wait_for_waiting(page, 0)
        is_on_record(kim)
        count = DeviceEntry.objects.count()
        page.reload()
        wait_for_waiting(page, 0)
        assert DeviceEntry.objects.count() == count
        stands(visit_page(after, door), "none")


def work_through(phone: OwnPhone, door: DoorUnit) -> None:
    """Begin, make ready, inspect and check; every state without a barrier, for gloves."""
    page = visit_page(phone, door)
    no_barrier(page)
    targets_are_large(page)
    begin(page, str(task("LUB")))
    no_barrier(page)
    targets_are_large(page)
    set_ticks(page)
    page.get_by_role("button", name="Take it back: Opening clear").click()
    expect(page.locator(OPEN_TICKS)).to_have_count(1)
    set_ticks(page)
    inspect_on_the_visit(page, phone, door)
    page = visit_page(phone, door)
    stands(page, "open")
    pass_final_check(page)


def half_close(page: Page, key: str) -> None:
    close(page)
    no_barrier(page)
    targets_are_large(page)
    page.get_by_role("button", name="Close the visit").click()
    expect(page.locator("#visit-error")).to_contain_text("A fault is closed with what was done")
    pick(page, key)


def pick(page: Page, key: str) -> None:
    """Mode, mechanism, cause and action, in short picks."""
    for name, value in (
        ("mode", "FM10"),
        ("mechanism", "heat"),
        ("cause", "age"),
        ("action", "replace"),
    ):
        page.locator(f"[name={key}-{name}]").select_option(value)


def is_on_record(kim: User) -> None:
    visit = Visit.objects.get()
    assert (visit.state, visit.technician, visit.signed_by) == (VisitState.CLOSED, kim, "kim")
    assert Inspection.objects.get().visit == visit
    assert set(visit.jobs.values_list("outcome", flat=True)) == {"done"}
    repaired = Fault.objects.in_force().get()
    assert (repaired.mode, repaired.action) == ("FM10", "replace")
    assert PartUsed.objects.get().part.part_number == "F-20"
    stored = DeviceEntry.objects.values_list("outcome", flat=True)
    assert set(stored) == {EntryOutcome.STORED}


def inspect_on_the_visit(page: Page, phone: OwnPhone, door: DoorUnit) -> None:
    """An inspection with a slip in it, which is asked about at once."""
    page.goto(f"{phone.site}/doors/{door.serial}/inspection/")
    page.wait_for_selector("html[data-phone=ready]", state="attached")
    open_all(page)
    page.locator("[name=battery_rest]").fill("99")
    page.locator("form[data-offline] button[type=submit]").click()
    asked = page.locator(".asked")
    expect(asked).to_contain_text("cannot read 99 V: between 0 and 18 is possible")
    page.locator("[name=battery_rest]").fill("1.26")
    page.locator("form[data-offline] button[type=submit]").click()
    expect(asked).to_contain_text("Was 12.6 meant")
    asked.get_by_role("button", name="Yes, 12.6 V").click()
    page.locator("form[data-offline] button[type=submit]").click()
    expect(page.locator("#phone-kept")).to_contain_text("It is sent when there is a signal")


def test_a_visit_closed_meanwhile_is_shown_field_by_field_and_loses_nothing(
    phone: Phone, kim: User, door: DoorUnit
) -> None:
    visit = make_visit(door=door, planned_on=NOW.date())
    visit.jobs.create(kind="task", task=task("CLN"))
    with phone() as running:
        open_round(running, kim)
        running.lose_signal()
        # The address that only the server has leads to the visit as the phone carries it.
        page = running.page
        page.goto(f"{running.site}/visits/{visit.pk}/")
        page.wait_for_selector("html[data-visit=ready]", state="attached")
        page.get_by_role("button", name="Begin the visit").first.click()
        stands(page, "open")
        set_ticks(page)
        close(page)
        page.get_by_role("button", name="Close the visit").click()
        stands(page, "ended")
        Visit.objects.filter(pk=visit.pk).update(
            state=VisitState.CLOSED, started_at=NOW, closed_at=NOW, signed_by="Robin"
        )
        running.find_signal()
        page.goto(f"{running.site}/round/waiting/")
        page.wait_for_selector('html[data-waiting="0"]', state="attached")
        closing = page.locator("#waiting-list li.refused").last
        expect(closing).to_contain_text("Meanwhile this visit is “closed”")
        expect(closing.get_by_role("row", name="Signed by – Robin")).to_be_visible()
        expect(closing.get_by_role("row").filter(has_text=str(task("CLN")))).to_contain_text("done")
        no_barrier(page)
        targets_are_large(page)
        with page.expect_download() as saved:
            closing.get_by_role("button", name="Save to a file").click()
        assert '"visit_close"' in Path(saved.value.path()).read_text()
        visit.refresh_from_db()
        assert visit.signed_by == "Robin"


def test_a_visit_is_handed_over_and_a_truck_kept_without_a_signal(
    phone: Phone, kim: User, door: DoorUnit
) -> None:
    robin = make_user(username="robin")
    with phone() as running:
        open_round(running, kim)
        running.lose_signal()
        page = visit_page(running, door)
        begin(page)
        page.get_by_role("link", name="Keep this truck here").click()
        page.wait_for_selector("html[data-phone=ready]", state="attached")
        page.get_by_label("door cannot be secured closed").check()
        no_barrier(page)
        page.get_by_role("button", name="Keep it out of use").click()
        expect(page.locator("#phone-kept")).to_contain_text("It is sent when there is a signal")
        page = visit_page(running, door)
        page.get_by_role("link", name="Hand it to the next shift").click()
        stands(page, "hand-over")
        no_barrier(page)
        page.get_by_label("To", exact=True).select_option(label="robin")
        page.get_by_label("Where it stands").fill("feed is off and locked")
        page.get_by_role("button", name="Hand it over").click()
        stands(page, "ended")
        expect(page.locator("#visit-state")).to_contain_text("handed to robin")
        running.find_signal()
        wait_for_waiting(page, 0)
        visit = Visit.objects.get()
        assert (visit.state, visit.technician) == (VisitState.OPEN, robin)
        assert RoadHold.objects.standing().get().placed_by == kim


def test_a_fault_is_recorded_from_a_search_without_a_signal(
    phone: Phone, kim: User, door: DoorUnit
) -> None:
    with phone() as running:
        page = open_round(running, kim)
        running.lose_signal()
        page.goto(f"{running.site}/doors/D-1/fault/?complaint=S9&component=ajar_lamp&mode=FM23")
        page.wait_for_selector("html[data-phone=ready]", state="attached")
        expect(page.get_by_label("The driver said")).to_have_value("S9")
        expect(page.locator("[name=mode]")).to_have_value("FM23")
        no_barrier(page)
        page.get_by_role("button", name="Save the fault").click()
        expect(page.locator("#phone-kept")).to_contain_text("It is sent when there is a signal")
        running.find_signal()
        wait_for_waiting(page, 0)
        fault = Fault.objects.get()
        assert (fault.complaint, fault.mode, fault.entered_by) == ("S9", "FM23", kim)


def test_two_people_share_a_phone_by_pin_without_a_signal(
    phone: Phone, kim: User, door: DoorUnit
) -> None:
    robin = make_user(username="robin")
    set_pin(person=robin, pin="4071", set_at=NOW)
    with phone() as running:
        open_round(running, kim)
        page = running.page
        page.goto(f"{running.site}/round/people/")
        add_person(page, "robin", "1234")
        expect(page.locator("#people-error")).to_have_text("This is not the PIN of robin.")
        no_barrier(page)
        add_person(page, "robin", "4071")
        expect(page.locator("#people-said")).to_contain_text("robin was added to this phone")
        running.lose_signal()
        # Another tab holds no word: robin types the PIN before the first entry.
        page.evaluate("sessionStorage.clear()")
        page.goto(f"{running.site}/round/doors/D-1/")
        expect(page.locator("#phone-writer")).to_contain_text("robin, once the PIN is typed")
        page.get_by_label("Counter").fill("71")
        page.get_by_role("button", name="Save the reading").click()
        dialog = page.locator("#pin-dialog")
        dialog.get_by_label("PIN of robin").fill("9999")
        dialog.get_by_role("button", name="Go on").click()
        expect(dialog).to_contain_text("What you entered is still here")
        no_barrier(page)
        dialog.get_by_label("PIN of robin").fill("4071")
        dialog.get_by_role("button", name="Go on").click()
        expect(page.locator("#phone-kept")).to_contain_text("71. It is sent")
        # The sign-off asks the PIN itself, and takes no other name.
        page = visit_page(running, door)
        begin(page)
        set_ticks(page)
        close(page)
        expect(page.get_by_label("Signed by")).to_be_hidden()
        page.get_by_role("button", name="Close the visit").click()
        dialog.get_by_label("PIN of robin").fill("4071")
        dialog.get_by_role("button", name="Go on").click()
        stands(page, "ended")
        page.goto(f"{running.site}/round/people/")
        page.get_by_role("button", name="kim goes on").click()
        expect(page.locator("#people-said")).to_have_text("Entries are by kim.")
        running.find_signal()
        wait_for_waiting(page, 0)
        assert {str(each.author) for each in DeviceEntry.objects.all()} == {"robin"}
        assert Visit.objects.get().signed_by == "robin"
        stored = page.evaluate("fleetdoorsWriter.list()")
        assert "4071" not in str(stored)
        assert set(stored[0]) == {
            *("person", "name", "salt", "iv", "sealed", "rounds", "added_at", "wrong", "wait_until")
        }


def add_person(page: Page, name: str, pin: str) -> None:
    page.get_by_label("Name").select_option(label=name)
    page.locator("#add-pin").fill(pin)
    page.get_by_role("button", name="Add to this phone").click()


def test_five_wrong_pins_make_the_phone_wait(phone: Phone, kim: User, door: DoorUnit) -> None:
    robin = make_user(username="robin", role=Role.PLANNER)
    set_pin(person=robin, pin="4071", set_at=NOW)
    with phone() as running:
        open_round(running, kim)
        page = running.page
        page.goto(f"{running.site}/round/people/")
        add_person(page, "robin", "4071")
        expect(page.locator("#people-said")).to_contain_text("was added")
        said = page.evaluate(
            """async (person) => {
              const said = [];
              for (const pin of ["0000", "0001", "0002", "0003", "0004", "0005", "4071"]) {
                await fleetdoorsWriter.unlock(person, pin).catch(({message}) => said.push(message));
              }
              return said;
            }""",
            robin.pk,
        )
        assert all("not the PIN of robin" in each for each in said[:5])
        assert [each.startswith("Too many wrong tries") for each in said[5:]] == [True, True]


def test_timers_survive_a_reload_and_fill_their_field(
    phone: Phone, kim: User, door: DoorUnit
) -> None:
    with phone() as running:
        page = open_round(running, kim)
        running.lose_signal()
        page.clock.install()
        page.goto(f"{running.site}/doors/D-1/inspection/")
        page.wait_for_selector("html[data-phone=ready]", state="attached")
        open_all(page)
        field = page.locator("[name=travel_open_seconds]")
        start = page.get_by_role("button", name="Start when the door starts: Seconds to open")
        start.focus()
        page.keyboard.press("Enter")
        page.clock.run_for(5_000)
        page.reload()
        page.clock.run_for(4_000)
        open_all(page)
        targets_are_large(page)
        no_barrier(page)
        page.get_by_role("button", name="Stop when the door stands").click()
        # The page's own clock runs on beside the nine seconds that it was moved by.
        assert 9 <= float(field.input_value()) < 60
        hold = page.get_by_role("button", name="Start the 10 s hold")
        hold.click()
        expect(page.get_by_role("timer").filter(has_text="Hold still: 10 s left")).to_be_visible()
        page.clock.run_for(10_500)
        expect(page.locator(".timer-said", has_text="read the drift now")).to_be_visible()


def test_a_door_in_store_with_a_visit_is_on_the_phone(phone: Phone, kim: User) -> None:
    depot = make_depot()
    loose = make_door(serial="D-9", truck=make_truck(fleet_number="T-9", depot=depot))
    visit = make_visit(door=loose, planned_on=NOW.date())
    loose.mountings.update(removed_on=NOW.date())
    Visit.objects.filter(pk=visit.pk).update(truck=None, depot=None)
    with phone() as running:
        page = open_round(running, kim)
        running.lose_signal()
        page.get_by_role("link", name="D-9").click()
        expect(page.get_by_label("Counter")).to_be_visible()
        stands(visit_page(running, loose), "planned")


def test_the_phones_own_pages_are_without_a_barrier_and_for_gloves(
    phone: Phone, kim: User, door: DoorUnit
) -> None:
    planned = make_visit(door=door, planned_on=NOW.date())
    planned.jobs.create(kind="fault", fault=make_fault(door=door, complaint="S8"))
    begun = make_open_visit(door=make_door(serial="D-2"), technician=kim)
    begun.jobs.create(kind="task", task=task("LFT"))
    make_hold(door=door)
    addresses = [
        *("/round/doors/", "/round/people/", "/round/pin/", "/round/waiting/"),
        *("/round/doors/D-1/", "/round/doors/D-1/visit/", "/round/doors/D-2/visit/"),
        *("/doors/D-1/fault/", "/doors/D-1/fault/?complaint=S1", "/doors/D-1/hold/"),
    ]
    with phone() as running:
        page = open_round(running, kim)
        for address in addresses:
            answer = page.goto(running.site + address)
            assert answer is not None, address
            assert answer.status == 200, address
            open_all(page)
            no_barrier(page)
            targets_are_large(page)
