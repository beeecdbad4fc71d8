"""Without a signal, in a Chromium of a phone's width: entered, killed, restarted, all there."""

from __future__ import annotations

import gzip
from collections.abc import Callable
from contextlib import AbstractContextManager
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page, Response, expect
from pytest_django.fixtures import Settings

from fleetdoors.models import DoorUnit, User
from inspections.models import CounterReading, DeviceEntry, FaultTrace, Inspection, RoadHold
from inspections.services.labels import issue_label
from inspections.views import device_entries
from tests.browser.own_phone import OwnPhone, started_phone
from tests.factories import NOW, make_depot, make_door, make_truck, make_user
from tests.services.waiting import wait_until

Phone = Callable[[], AbstractContextManager[OwnPhone]]
NARROW_BY = "document.documentElement.scrollWidth - document.documentElement.clientWidth"
LOWEST_TARGET = 48


@pytest.fixture
def phone(
    live_server: object,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    settings: Settings,
    recompute_requests: object,
) -> Phone:
    """Starts the phone, each time with the same profile."""
    # Playwright's loop runs in this thread, which Django takes for asynchronous code.
    monkeypatch.setenv("DJANGO_ALLOW_ASYNC_UNSAFE", "1")
    settings.MEDIA_ROOT = tmp_path / "media"
    return lambda: started_phone(tmp_path / "profile", live_server.url)  # type: ignore[attr-defined]


@pytest.fixture
def kim(live_server: object) -> User:
    return make_user(username="kim")


@pytest.fixture
def doors(live_server: object, recompute_requests: object) -> list[DoorUnit]:
    depot = make_depot()
    return [
        make_door(serial=f"D-{number}", truck=make_truck(fleet_number=f"T-{number}", depot=depot))
        for number in (1, 2)
    ]


def open_round(phone: OwnPhone, person: User) -> Page:
    """The doors at hand, once the phone has kept all of them."""
    phone.sign_in(person)
    phone.page.goto(f"{phone.site}/round/doors/")
    phone.page.wait_for_selector("html[data-kept]", state="attached")
    return phone.page


def enter_reading(page: Page, door: DoorUnit, value: int) -> None:
    page.goto(page.url.partition("/round/")[0] + f"/round/doors/{door.serial}/")
    page.wait_for_selector("html[data-phone=ready]", state="attached")
    page.get_by_label("Counter").fill(str(value))
    page.get_by_role("button", name="Save the reading").click()


def kept_on_phone(page: Page, value: int) -> None:
    expect(page.locator("#phone-kept")).to_contain_text(
        f"{value}. It is sent when there is a signal"
    )


def wait_for_waiting(page: Page, count: int) -> None:
    page.wait_for_selector(f'html[data-waiting="{count}"]', state="attached")


def values_on_record() -> list[int]:
    return list(CounterReading.objects.order_by("read_at").values_list("counter_value", flat=True))


def no_barrier(page: Page) -> None:
    found = Axe().run(page)
    assert found.violations_count == 0, found.generate_report()
    assert page.evaluate(NARROW_BY) == 0


def test_ten_readings_an_inspection_and_a_trace_outlive_the_browser(
    phone: Phone, kim: User, doors: list[DoorUnit]
) -> None:
    values = list(range(1000, 1010))
    with phone() as before:
        page = open_round(before, kim)
        before.lose_signal()
        for number, value in enumerate(values):
            enter_reading(page, doors[number % 2], value)
            kept_on_phone(page, value)
        walk_trace(page, doors[0])
        inspect(page, doors[1])
        wait_for_waiting(page, 14)
        assert not DeviceEntry.objects.exists()
        before.kill()
        before.errors.clear()
    with phone() as after:
        after.sign_in(kim)
        after.page.goto(f"{after.site}/round/waiting/")
        wait_for_waiting(after.page, 0)
        assert values_on_record() == values
        assert DeviceEntry.objects.filter(outcome="stored").count() == 14
        moments = list(DeviceEntry.objects.order_by("pk").values_list("happened_at", flat=True))
        assert moments == sorted(moments)
        answers = FaultTrace.objects.get().answers.in_force()
        assert (answers[0].sequence, answers[0].node) == (1, "N00")
        assert len(answers) == 3
        measured = Inspection.objects.get().measurements.get(quantity="battery_rest")
        assert (measured.value, measured.door) == (12.6, doors[1])
        after.page.reload()
        wait_for_waiting(after.page, 0)
        assert DeviceEntry.objects.count() == 14


def test_inches_typed_without_a_signal_are_millimetres_on_record(
    phone: Phone, kim: User, doors: list[DoorUnit], settings: Settings
) -> None:
    settings.UNITS = "inch"
    with phone() as running:
        page = open_round(running, kim)
        running.lose_signal()
        page.goto(f"{running.site}/doors/D-1/inspection/")
        page.wait_for_selector("html[data-phone=ready]", state="attached")
        page.get_by_text("Balance and drag, by hand").click()
        page.locator("[name=balance_half]").fill("2.5")
        page.locator("[name=drag]").fill("900")
        page.locator("form[data-offline] button[type=submit]").click()
        expect(page.locator(".asked")).to_contain_text("900 lbf")
        page.locator("[name=drag]").fill("20")
        page.locator("form[data-offline] button[type=submit]").click()
        expect(page.locator("#phone-kept")).to_contain_text("It is sent when there is a signal")
        running.find_signal()
        page.goto(f"{running.site}/round/waiting/")
        wait_for_waiting(page, 0)
        measured = Inspection.objects.get().measurements
        assert measured.get(quantity="balance_half").value == 63.5
        assert measured.get(quantity="drag").value == pytest.approx(88.964432305)


def walk_trace(page: Page, door: DoorUnit) -> None:
    """Three answers of a search; the first is the look at spring and cables."""
    page.goto(page.url.partition("/round/")[0] + f"/round/doors/{door.serial}/trace/")
    page.locator("button[value=S1]").click()
    for number in range(3):
        answered = page.locator("#trace-walk")
        node = answered.get_attribute("data-node")
        for each in answered.locator("input[required]").all():
            each.fill("12.6")
        for each in answered.locator("select[required]").all():
            each.select_option(index=1)
        yes = answered.get_by_role("button", name="Yes", exact=True)
        (yes if yes.count() else answered.get_by_role("button", name="Cannot tell")).click()
        expect(answered).not_to_have_attribute("data-node", str(node))
        assert number < 3


def inspect(page: Page, door: DoorUnit) -> None:
    page.goto(page.url.partition("/round/")[0] + f"/doors/{door.serial}/inspection/")
    page.wait_for_selector("html[data-phone=ready]", state="attached")
    page.locator("details:not([open]) > summary").first.click()
    page.locator("[name=battery_rest]").fill("12.6")
    page.locator("form[data-offline] button[type=submit]").click()
    expect(page.locator("#phone-kept")).to_contain_text("It is sent when there is a signal")


def fails_after_taking(entry: DeviceEntry) -> dict[str, str]:
    """The worst of a server's faults: it has taken the entry, and the phone never hears of it."""
    raise RuntimeError(f"lost the answer to {entry}")


def test_a_broken_spring_stops_the_search_on_the_phone_and_keeps_the_truck(
    phone: Phone, kim: User, doors: list[DoorUnit]
) -> None:
    with phone() as running:
        page = open_round(running, kim)
        running.lose_signal()
        page.goto(f"{running.site}/round/doors/D-1/trace/")
        page.locator("button[value=S8]").click()
        walk = page.locator("#trace-walk")
        expect(walk).to_have_attribute("data-node", "N00")
        walk.get_by_role("button", name="Yes", exact=True).click()
        walk.get_by_role("button", name="Take the last answer back").click()
        expect(walk).to_have_attribute("data-node", "N00")
        walk.get_by_role("button", name="No", exact=True).click()
        expect(walk.get_by_role("heading", level=2)).to_have_text("Stop here")
        assert walk.get_by_role("button", name="Yes", exact=True).count() == 0
        no_barrier(page)
        page.reload()
        expect(walk.get_by_role("heading", level=2)).to_have_text("Stop here")
        running.find_signal()
        wait_for_waiting(page, 0)
        trace = FaultTrace.objects.get()
        assert [row.kind for row in trace.answers.in_force()] == ["no"]
        assert trace.answers.count() == 2
        hold = RoadHold.objects.standing().get()
        assert (hold.door, hold.placed_by) == (doors[0], kim)


def test_a_server_that_fails_in_between_gets_everything_once(
    phone: Phone, kim: User, doors: list[DoorUnit], monkeypatch: pytest.MonkeyPatch
) -> None:
    with phone() as running:
        page = open_round(running, kim)
        running.lose_signal()
        for value in (50, 51):
            enter_reading(page, doors[0], value)
            kept_on_phone(page, value)
        with monkeypatch.context() as failing:
            failing.setattr(device_entries, "_told", fails_after_taking)
            running.find_signal()
            expect(page.locator("#phone-waiting")).to_contain_text("tried again by itself")
            expect(page.locator("#phone-waiting")).to_contain_text("2 entries are waiting")
            assert values_on_record() == [50]
        page.goto(f"{running.site}/round/waiting/")
        wait_for_waiting(page, 0)
        assert values_on_record() == [50, 51]
        assert DeviceEntry.objects.count() == 2


def test_a_session_that_has_run_out_loses_nothing_and_keeps_the_author(
    phone: Phone, kim: User, doors: list[DoorUnit]
) -> None:
    with phone() as running:
        page = open_round(running, kim)
        running.lose_signal()
        enter_reading(page, doors[0], 60)
        kept_on_phone(page, 60)
        running.lose_session()
        running.find_signal()
        expect(page.locator("#phone-waiting")).to_contain_text("sign-in has run out")
        expect(page.get_by_role("link", name="Sign in and send")).to_be_visible()
        assert values_on_record() == []
        running.sign_in(make_user(username="robin"))
        page.goto(f"{running.site}/round/waiting/")
        wait_for_waiting(page, 0)
        reading = CounterReading.objects.get()
        assert (reading.counter_value, reading.entered_by) == (60, kim)


def test_a_refused_entry_blocks_nothing_and_is_corrected_and_sent_again(
    phone: Phone, kim: User, doors: list[DoorUnit]
) -> None:
    with phone() as running:
        page = open_round(running, kim)
        running.lose_signal()
        for value in (70, 71):
            enter_reading(page, doors[0], value)
            kept_on_phone(page, value)
        # Meanwhile the counter of the second door was found to have fewer digits.
        enter_reading(page, doors[1], 123456)
        kept_on_phone(page, 123456)
        enter_reading(page, doors[0], 72)
        kept_on_phone(page, 72)
        model = doors[1].door_model
        model.counter_digits = 4
        model.save()
        running.find_signal()
        page.goto(f"{running.site}/round/waiting/")
        page.wait_for_selector('html[data-refused="1"][data-waiting="0"]', state="attached")
        assert values_on_record() == [70, 71, 72]
        refused = page.locator("#waiting-list li.refused")
        expect(refused).to_contain_text("This counter has 4 digits: 123456 has more.")
        no_barrier(page)
        with page.expect_download() as saved:
            refused.get_by_role("button", name="Save to a file").click()
        assert '"counter_value": "123456"' in Path(saved.value.path()).read_text()
        refused.get_by_label("Counter").fill("3456")
        refused.get_by_role("button", name="Correct and send again").click()
        page.wait_for_selector('html[data-refused="0"][data-waiting="0"]', state="attached")
        assert sorted(values_on_record()) == [70, 71, 72, 3456]
        expect(page.locator("#waiting-none")).to_be_visible()


def test_a_reading_takes_three_taps_from_the_door_to_saved(
    phone: Phone, kim: User, doors: list[DoorUnit]
) -> None:
    with phone() as running:
        page = open_round(running, kim)
        page.evaluate(
            "sessionStorage.taps = 0; addEventListener('pointerdown', () => sessionStorage.taps++)"
        )
        page.get_by_role("link", name="T-1").click()
        page.wait_for_selector("html[data-phone=ready]", state="attached")
        page.evaluate("addEventListener('pointerdown', () => sessionStorage.taps++)")
        page.get_by_label("Counter").click()
        page.keyboard.type("4870")
        page.get_by_role("button", name="Save the reading").click()
        expect(page.get_by_role("heading", level=1)).to_have_text("4870 is on record")
        assert page.evaluate("sessionStorage.taps") == "3"
        assert values_on_record() == [4870]
        assert DeviceEntry.objects.get().author == kim


def test_a_label_scanned_without_a_signal_takes_three_taps_too(
    phone: Phone, kim: User, doors: list[DoorUnit]
) -> None:
    label = issue_label(door=doors[1], issued_at=NOW)
    with phone() as running:
        page = open_round(running, kim)
        running.lose_signal()
        # The camera opens the address: the first tap.
        page.goto(f"{running.site}/d/{label.code}/")
        expect(page.get_by_role("heading", level=1)).to_contain_text("T-2")
        page.get_by_label("Counter").click()
        page.keyboard.type("4871")
        page.get_by_role("button", name="Save the reading").click()
        kept_on_phone(page, 4871)


def test_what_is_refused_with_a_signal_is_asked_on_the_usual_page(
    phone: Phone, kim: User, doors: list[DoorUnit]
) -> None:
    model = doors[0].door_model
    with phone() as running:
        page = open_round(running, kim)
        page.goto(f"{running.site}/round/doors/D-1/")
        page.wait_for_selector("html[data-phone=ready]", state="attached")
        page.get_by_label("Counter").fill("123456")
        model.counter_digits = 4
        model.save()
        page.get_by_role("button", name="Save the reading").click()
        expect(page.locator(".error-summary")).to_contain_text("has more")
        assert values_on_record() == []
        assert page.evaluate("fleetdoorsOutbox.counts()") == {"waiting": 0, "refused": 0}


def test_the_pages_of_the_round_open_without_a_signal_and_say_how_old_they_are(
    phone: Phone, kim: User, doors: list[DoorUnit]
) -> None:
    with phone() as running:
        page = open_round(running, kim)
        no_barrier(page)
        running.lose_signal()
        for address in ("/round/doors/", "/round/doors/D-2/", "/round/doors/D-1/trace/"):
            page.goto(running.site + address)
            expect(page.locator("#phone-copy")).to_contain_text("This page is the phone's copy of")
            expect(page.locator("#phone-copy")).to_contain_text("less than a minute old")
            no_barrier(page)
        page.reload()
        expect(page.locator("#trace-symptoms")).to_be_visible()
        page.locator("button[value=S1]").click()
        no_barrier(page)
        page.goto(f"{running.site}/reliability/")
        expect(page.get_by_role("heading", level=1)).to_contain_text("is this page on the phone?")
        no_barrier(page)


def test_targets_are_large_enough_for_gloves(
    phone: Phone, kim: User, doors: list[DoorUnit]
) -> None:
    with phone() as running:
        page = open_round(running, kim)
        for address in ("/round/doors/", "/round/doors/D-1/", "/round/waiting/"):
            page.goto(running.site + address)
            targets = page.locator("main :is(a, button, input:not([type=hidden]), summary):visible")
            small = {
                each.inner_text() or each.get_attribute("name"): box["height"]
                for each in targets.all()
                if (box := each.bounding_box()) and box["height"] < LOWEST_TARGET
            }
            assert small == {}, address


def test_signing_out_takes_the_pages_off_the_phone(
    phone: Phone, kim: User, doors: list[DoorUnit]
) -> None:
    with phone() as running:
        page = open_round(running, kim)
        page.get_by_role("button", name="Sign out").click()
        expect(page.get_by_role("heading", name="Sign in")).to_be_visible()
        assert page.evaluate("caches.has('fleetdoors-pages')") is False
        running.lose_signal()
        page.goto(f"{running.site}/round/doors/")
        expect(page.get_by_role("heading", level=1)).to_contain_text("is this page on the phone?")


def test_another_person_never_sees_the_pages_of_the_one_before(
    phone: Phone, kim: User, doors: list[DoorUnit]
) -> None:
    elsewhere = make_depot()
    make_door(serial="E-1", truck=make_truck(fleet_number="T-9", depot=elsewhere))
    robin = make_user(username="robin", depots=[elsewhere])
    robin.set_password("a long enough secret")
    robin.save()
    with phone() as running:
        page = open_round(running, kim)
        running.lose_session()
        page.goto(f"{running.site}/sign-in/?next=/gallery/")
        page.get_by_label("Username").fill("robin")
        page.get_by_label("Password").fill("a long enough secret")
        page.get_by_role("button", name="Sign in").click()
        expect(page.locator(".person-name")).to_have_text("robin")
        assert page.evaluate("caches.has('fleetdoors-pages')") is False
        page.goto(f"{running.site}/round/doors/")
        page.wait_for_selector("html[data-kept]", state="attached")
        running.lose_signal()
        page.goto(f"{running.site}/round/doors/D-1/")
        expect(page.get_by_role("heading", level=1)).to_contain_text("is this page on the phone?")
        page.goto(f"{running.site}/round/doors/E-1/")
        expect(page.get_by_role("heading", level=1)).to_contain_text("T-9")


def test_a_photo_is_shrunk_kept_and_follows_its_reading(
    phone: Phone, kim: User, doors: list[DoorUnit], tmp_path: Path
) -> None:
    with phone() as running:
        page = open_round(running, kim)
        picture = tmp_path / "counter.png"
        picture.write_bytes(large_picture(page))
        running.lose_signal()
        page.goto(f"{running.site}/round/doors/D-1/")
        page.wait_for_selector("html[data-phone=ready]", state="attached")
        page.get_by_label("Counter").fill("80")
        page.locator("summary", has_text="Another moment").click()
        page.get_by_label("Photo").set_input_files(picture)
        page.get_by_role("button", name="Save the reading").click()
        wait_for_waiting(page, 2)
        running.find_signal()
        wait_for_waiting(page, 0)
        photo = CounterReading.objects.get().attachments.get()
        assert (photo.content_type, photo.entered_by) == ("image/jpeg", kim)
        content = photo.file.read()
        assert jpeg_size(content) == (1600, 1200)


def large_picture(page: Page) -> bytes:
    """A picture of 2400 by 1800 as a camera would give it."""
    numbers: list[int] = page.evaluate(
        """async () => {
          const canvas = document.createElement("canvas");
          Object.assign(canvas, {width: 2400, height: 1800});
          canvas.getContext("2d").fillText("00080", 20, 40);
          const blob = await new Promise((done) => canvas.toBlob(done, "image/png"));
          return [...new Uint8Array(await blob.arrayBuffer())];
        }"""
    )
    return bytes(numbers)


def jpeg_size(content: bytes) -> tuple[int, int]:
    """Width and height from the frame header (ITU-T T.81, B.2.2)."""
    place = 2
    while content[place + 1] not in (0xC0, 0xC2):
        place += 2 + int.from_bytes(content[place + 2 : place + 4], "big")
    height, width = (int.from_bytes(content[place + at : place + at + 2], "big") for at in (5, 7))
    return width, height


def test_everything_works_with_scripts_off(phone: Phone, kim: User, doors: list[DoorUnit]) -> None:
    with phone() as running:
        plain = running.context.browser.new_context(java_script_enabled=False)  # type: ignore[union-attr]
        plain.add_cookies(_cookies(running, kim))
        page = plain.new_page()
        page.goto(f"{running.site}/round/doors/")
        page.get_by_role("link", name="T-1").click()
        page.get_by_label("Counter").fill("90")
        page.get_by_role("button", name="Save the reading").click()
        expect(page.get_by_role("heading", level=1)).to_have_text("90 is on record")
        assert values_on_record() == [90]
        plain.close()


def _cookies(phone: OwnPhone, person: User) -> list:  # type: ignore[type-arg]
    phone.sign_in(person)
    return phone.context.cookies(phone.site)


def test_a_new_version_of_the_program_reaches_the_phone(
    phone: Phone, kim: User, doors: list[DoorUnit], monkeypatch: pytest.MonkeyPatch
) -> None:
    with phone() as running:
        page = open_round(running, kim)
        first = page.evaluate("caches.keys()")
        monkeypatch.setattr("inspections.views.offline.shell_version", lambda: "after-an-update")
        page.goto(f"{running.site}/round/doors/")
        wait_until(
            lambda: "fleetdoors-files-after-an-update" in page.evaluate("caches.keys()"),
            what="the new worker's files",
        )
        wait_until(
            lambda: not set(first) & set(page.evaluate("caches.keys()")) - {"fleetdoors-pages"},
            what="the old worker's files to go",
        )
        running.lose_signal()
        page.goto(f"{running.site}/round/doors/D-1/")
        expect(page.get_by_label("Counter")).to_be_visible()


def test_first_load_fetches_less_than_150_kb_and_no_chart_library(
    phone: Phone, kim: User, doors: list[DoorUnit]
) -> None:
    with phone() as running:
        answers: list[Response] = []

        def note(answer: Response) -> None:
            answers.append(answer)

        running.page.on("response", note)
        open_round(running, kim)
        # What the page itself asked for; the rest comes behind it, when the round is kept.
        first = {each.url: each for each in answers if not each.from_service_worker}
        assert any(url.endswith("/inspections/round.js") for url in first)
        assert not [url for url in first if "plotly" in url or "chart" in url]
        weight = sum(len(gzip.compress(each.body(), 6)) for each in first.values())
        assert weight < 150_000, f"{weight} bytes in {len(first)} pieces"
