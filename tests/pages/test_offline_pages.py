"""What a phone keeps: the worker, the list of pages, the doors at hand, and the bare pages."""

import gzip
import json
import re
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from django.contrib.staticfiles import finders
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from pytest_django import DjangoAssertNumQueries
from pytest_django.fixtures import Settings

from fleetdoors.models import DoorUnit, Role, User
from inspections.services.device_authors import author_of
from inspections.services.round import DOOR_PAGES, MOST_DOORS
from inspections.views.offline import SHELL_FILES
from tests.factories import (
    component,
    make_depot,
    make_door,
    make_door_model,
    make_fault,
    make_part,
    make_reading,
    make_task_done,
    make_truck,
    make_user,
    task,
)
from tests.truck_factories import (
    make_final_check,
    make_follow_up,
    make_hold,
    make_inspection,
    make_spring_word,
    make_tick,
    make_visit,
)

pytestmark = pytest.mark.django_db


@pytest.fixture
def kim() -> User:
    return make_user(username="kim")


@pytest.fixture
def client(client: Client, kim: User) -> Client:
    client.force_login(kim)
    return client


@pytest.fixture
def door(recompute_requests: object) -> DoorUnit:
    return make_door(serial="D/7 a", truck=make_truck(fleet_number="T7"))


def text(client: Client, name: str, *key: object) -> str:
    return client.get(reverse(name, args=key)).content.decode()


def facts_of(page: str) -> dict[str, object]:
    found = re.search(r'<script id="phone-facts"[^>]*>(.*?)</script>', page)
    assert found is not None
    facts: dict[str, object] = json.loads(found.group(1))
    return facts


def test_the_worker_may_serve_every_page_and_is_never_kept_by_a_cache(client: Client) -> None:
    answer = client.get("/sw.js")
    assert answer["Content-Type"].startswith("text/javascript")
    assert answer["Cache-Control"] == "no-store"
    assert answer["Service-Worker-Allowed"] == "/"
    shell = json.loads(re.match(r"const SHELL = (.*);\n", answer.content.decode()).group(1))  # type: ignore[union-attr]
    assert shell["entries"] == reverse("round-entries")
    assert [finders.find(each.removeprefix("/static/")) for each in shell["files"]]
    assert not any("plotly" in each or "chart" in each for each in shell["files"])


def test_every_file_that_a_kept_page_asks_for_is_kept(client: Client, door: DoorUnit) -> None:
    pages = [
        text(client, "round-doors"),
        text(client, "round-waiting"),
        text(client, "round-offline"),
    ]
    pages += [text(client, "round-people")]
    pages += [text(client, name, door.serial) for name in DOOR_PAGES]
    pages += [client.get(reverse("fault-new", args=[door.serial]) + "?complaint=").content.decode()]
    asked = {each for page in pages for each in re.findall(r'(?:src|href)="/static/([^"]+)"', page)}
    # What is for paper only is not missed on the phone.
    assert asked - set(SHELL_FILES) == {"fleetdoors/print.css"}


def test_the_phone_is_told_its_pages_and_when_they_changed(client: Client, door: DoorUnit) -> None:
    first = client.get(reverse("round-data")).json()
    marks = {each["url"]: each["mark"] for each in first["pages"]}
    assert reverse("round-door", args=["D/7 a"]) in marks
    assert reverse("round-trace", args=["D/7 a"]) in marks
    assert {reverse("round-doors"), reverse("round-waiting")} <= set(marks)
    assert first["person"] == User.objects.get(username="kim").pk
    DoorUnit.objects.filter(pk=door.pk).raise_revision()
    again = {
        each["url"]: each["mark"] for each in client.get(reverse("round-data")).json()["pages"]
    }
    changed = reverse("round-door", args=["D/7 a"])
    assert again[changed] != marks[changed]


def test_what_changes_a_door_page_without_its_figures_changes_its_mark_too(
    client: Client, door: DoorUnit
) -> None:
    page = reverse("round-visit", args=[door.serial])

    def mark() -> str:
        pages = client.get(reverse("round-data")).json()["pages"]
        return next(each["mark"] for each in pages if each["url"] == page)

    marks = [mark()]
    visit = make_visit(door=door, planned_on=timezone.localdate())
    for change in (
        lambda: visit.jobs.create(kind="task", task=task("LUB")),
        lambda: make_tick(visit=visit),
        lambda: make_final_check(visit=visit),
        lambda: make_follow_up(door=door),
        lambda: make_hold(door=door),
        lambda: make_inspection(door=door),
    ):
        marks.append(mark())
        change()
    marks.append(mark())
    assert len(set(marks)) == len(marks)
    assert mark() == marks[-1]


def test_the_addresses_of_a_visit_lead_to_the_phones_own_page(
    client: Client, door: DoorUnit
) -> None:
    visit = make_visit(door=door, planned_on=timezone.localdate())
    places = client.get(reverse("round-data")).json()["labels"]
    for name in ("visit-detail", "visit-check", "visit-close", "visit-hand-over", "visit-absent"):
        assert places[reverse(name, args=[visit.pk])] == reverse("round-visit", args=[door.serial])


def facts_in(page: str, name: str) -> dict[str, Any]:
    found = re.search(rf'<script id="{name}"[^>]*>(.*?)</script>', page)
    assert found is not None
    facts: dict[str, Any] = json.loads(found.group(1))
    return facts


def test_the_phones_visit_knows_its_jobs_ticks_and_what_stands_open(
    client: Client, door: DoorUnit
) -> None:
    fault = make_fault(door=door, complaint="S1", component=component("lift_cable"))
    visit = make_visit(door=door, planned_on=timezone.localdate())
    visit.jobs.create(kind="task", task=task("CLN"))
    make_tick(visit=visit, tick="chocks")
    facts = facts_in(text(client, "round-visit", door.serial), "visit-facts")
    told = facts["visit"]
    assert (told["pk"], told["state"], told["has_passed"]) == (visit.pk, "planned", None)
    assert [each["code"] for each in told["ticks"]] == ["chocks"]
    assert [(job["kind"], job["touches"]) for job in told["jobs"]] == [("task", False)]
    offered = facts["offered"][0]
    assert offered["key"] == f"fault-{fault.pk}"
    assert offered["always"] is True
    assert "spring_trained" in offered["ticks"]
    make_final_check(visit=visit, ajar_lamp=False)
    facts = facts_in(text(client, "round-visit", door.serial), "visit-facts")
    assert facts["visit"]["has_passed"] is False


def test_the_shop_is_told_once_for_all_doors(client: Client, kim: User) -> None:
    model = make_door_model()
    part = make_part(part_number="X-1", component=component("fuse"), fits=[model])
    make_spring_word(person=kim, until_on=timezone.localdate() + timedelta(days=400))
    shop = client.get(reverse("round-shop")).json()
    assert {"C1", "C3", "C8"} <= set(shop["cautions"])
    assert [each for each in shop["parts"] if each["value"] == str(part.pk)] == [
        {
            "value": str(part.pk),
            "label": str(part),
            "group": str(component("fuse")),
            "component": "fuse",
            "fits": [model.pk],
        }
    ]
    assert shop["ticks_never_skipped"] == ["isolation", "spring_trained"]
    assert next(each for each in shop["people"] if each["name"] == "kim")["springs_until"]
    assert shop["typed_values"]["bounds"]["battery_volts"]["hard"] == [0.0, 18.0]


def test_the_visit_page_costs_as_many_queries_when_there_is_more(
    client: Client, door: DoorUnit, django_assert_max_num_queries: DjangoAssertNumQueries
) -> None:
    visit = make_visit(door=door, planned_on=timezone.localdate())
    for code in ("LUB", "BAL", "CLN", "LFT", "COI"):
        visit.jobs.create(kind="task", task=task(code))
        make_fault(door=door, complaint="S1", component=component("fuse"))
        make_follow_up(door=door, task_asked=task(code))
    with django_assert_max_num_queries(42):
        client.get(reverse("round-visit", args=[door.serial]))


def test_every_page_that_the_phone_is_told_of_opens(client: Client, door: DoorUnit) -> None:
    make_visit(door=door, planned_on=timezone.localdate())
    told = client.get(reverse("round-data")).json()["pages"]
    opened = {each["url"]: client.get(each["url"]).status_code for each in told}
    assert set(opened.values()) == {200}, opened


def test_a_phone_keeps_a_bounded_number_of_doors(
    client: Client, recompute_requests: object
) -> None:
    depot = make_depot()
    for _number in range(MOST_DOORS + 3):
        make_door(depot=depot)
    told = client.get(reverse("round-data")).json()["pages"]
    assert sum("/round/doors/" in each["url"] and each["url"].count("/") == 4 for each in told) == (
        MOST_DOORS
    )
    assert "3 more doors are not kept on this phone" in text(client, "round-doors")


def test_the_days_visits_come_first_and_other_depots_do_not_come(
    recompute_requests: object, client: Client
) -> None:
    depot = make_depot()
    kim = make_user(depots=[depot])
    visited = make_door(truck=make_truck(fleet_number="Z9", depot=depot))
    make_door(truck=make_truck(fleet_number="A1", depot=depot))
    make_door(truck=make_truck(fleet_number="X5", depot=make_depot()))
    make_visit(door=visited, planned_on=timezone.localdate() - timedelta(days=1))
    client.force_login(kim)
    page = text(client, "round-doors")
    assert page.index(">Z9</span>") < page.index(">A1</span>")
    assert "left from" in page
    assert ">X5</span>" not in page


def test_the_doors_cost_as_many_queries_when_there_are_more(
    client: Client,
    recompute_requests: object,
    django_assert_max_num_queries: DjangoAssertNumQueries,
) -> None:
    for _number in range(12):
        make_visit(door=make_door(), planned_on=timezone.localdate())
        make_door()
    with django_assert_max_num_queries(12):
        client.get(reverse("round-doors"))
    with django_assert_max_num_queries(20):
        client.get(reverse("round-data"))


def test_a_door_at_hand_shows_its_last_three_jobs_and_its_limits(
    client: Client, door: DoorUnit
) -> None:
    now = timezone.now()
    make_reading(door=door, counter_value=4321, read_at=now - timedelta(days=1))
    for days in (9, 5, 3):
        make_task_done(door=door, task=task("LUB"), done_at=now - timedelta(days=days))
    make_fault(door=door, complaint="S1", found_at=now - timedelta(days=4))
    page = text(client, "round-door", door.serial)
    assert page.count("<li>") - page.count("<li><a") >= 3
    assert "Fault: " in page
    assert page.count(str(task("LUB"))) == 2
    assert "Limits of" in page
    assert "31 to 33 V" in page
    assert 'data-offline="reading"' in page
    assert 'data-about-door="D/7 a"' in page


def test_a_door_at_hand_posts_where_it_also_works_without_scripts(
    client: Client, door: DoorUnit
) -> None:
    page = text(client, "round-door", door.serial)
    action = reverse("reading-new", args=[door.serial])
    assert f'action="{action}"' in page
    answer = client.post(action, {"counter_value": "55", "read_at": "2026-01-02T03:04"})
    assert answer.status_code == 302
    assert door.readings.get().counter_value == 55


def test_a_page_hands_the_phone_the_word_of_its_person(client: Client, door: DoorUnit) -> None:
    facts = facts_of(text(client, "round-door", door.serial))
    assert author_of(str(facts["author"]), sender=make_user()).username == "kim"
    assert facts["authorName"] == "kim"


def test_the_page_for_no_signal_names_nobody(client: Client) -> None:
    page = text(client, "round-offline")
    assert "kim" not in page
    assert Client().get(reverse("round-offline")).status_code == 200


def test_the_tree_on_the_phone_is_the_one_of_the_server(client: Client, door: DoorUnit) -> None:
    tree = client.get(reverse("round-tree")).json()
    assert "N00" in tree["nodes"]
    page = text(client, "round-trace", door.serial)
    assert '"door": "D/7 a"' in page
    assert 'value="S1"' in page


@pytest.mark.parametrize("name", ["round-data", "round-tree", "round-doors", "round-waiting"])
def test_a_buyer_has_no_round(client: Client, name: str) -> None:
    client.force_login(make_user(role=Role.BUYER))
    assert client.get(reverse(name)).status_code == 403


def test_first_load_of_a_technicians_page_stays_small(client: Client, door: DoorUnit) -> None:
    """Everything the phone fetches: the page as it is sent, files as the server compresses them."""
    make_visit(door=door, planned_on=timezone.localdate())
    page = len(client.get(reverse("round-door", args=[door.serial])).content)
    worker = len(client.get("/sw.js").content)
    files = 0
    for name in (*SHELL_FILES, "fleetdoors/print.css"):
        files += len(gzip.compress(Path(str(finders.find(name))).read_bytes(), 6))
    total = page + worker + files
    assert total < 150_000, f"{total} bytes: page {page}, worker {worker}, files {files}"


def test_a_photo_comes_with_a_reading_also_without_scripts(
    client: Client, door: DoorUnit, settings: Settings, tmp_path: Path
) -> None:
    settings.MEDIA_ROOT = tmp_path
    address = reverse("reading-new", args=[door.serial])
    picture = SimpleUploadedFile("counter.jpg", b"\xff\xd8\xff\xe0 00055")
    client.post(address, {"counter_value": "55", "read_at": "2026-01-02T03:04", "photo": picture})
    assert door.readings.get().attachments.get().content_type == "image/jpeg"
    no_picture = SimpleUploadedFile("counter.jpg", b"nothing to see")
    values = {"counter_value": "56", "read_at": "2026-01-03T03:04", "photo": no_picture}
    answer = client.post(address, values, follow=True)
    assert "A photo is a JPEG, PNG or WebP picture" in answer.content.decode()
    assert door.readings.get(counter_value=56).attachments.count() == 0
