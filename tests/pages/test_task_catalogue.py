"""The catalogue in the browser: tried, saved, refused, put back."""

from __future__ import annotations

from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from fleetdoors.models import Role, TaskChange
from fleetdoors.services.task_sheet import COLUMNS, sheet_of
from inspections.codes import DetectedBy
from tests.catalogue_factories import alter, make_kit
from tests.factories import component, make_depot, make_fault, make_part, make_user, task
from tests.pages.conftest import SignIn
from tests.pages.running_fleet import compute, make_running_door

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("stopped_clock")]


def typed(code: str, **changes: Any) -> dict[str, Any]:
    """The form of a task as the page filled it in, with other values."""
    sheet = sheet_of(task(code))
    plain = {name: "" if getattr(sheet, name) is None else getattr(sheet, name) for name in COLUMNS}
    plain["is_on_due_lists"] = "on" if sheet.is_on_due_lists else ""
    factors = {f"factor_{condition}": factor for condition, factor in sheet.factors.items()}
    kit = {}
    for row, (part, pieces) in enumerate(sheet.kit.items()):
        kit |= {f"part_{row}": part, f"pieces_{row}": pieces}
    return plain | factors | kit | {"contains": list(sheet.contains)} | changes


def page_of(code: str) -> str:
    return reverse("task-detail", args=[code])


def posted(client: Client, code: str, **changes: Any) -> Any:
    return client.post(page_of(code), typed(code, **changes))


@pytest.mark.parametrize("name", ["task-list", "task-new"])
@pytest.mark.parametrize(
    ("role", "status"), [(Role.PLANNER, 200), (Role.BUYER, 403), (Role.TECHNICIAN, 403)]
)
def test_the_catalogue_is_the_planner_s(
    sign_in: SignIn, name: str, role: Role, status: int
) -> None:
    assert sign_in(role).get(reverse(name)).status_code == status


def test_the_list_tells_each_task(sign_in: SignIn) -> None:
    make_kit(code="LUB")
    rows = {row.code: row for row in sign_in().get("/tasks/").context["rows"]}
    lub = rows["LUB"]
    assert (lub.every, lub.window, lub.minutes, lub.kit) == (
        "5,000 cycles or 90 days",
        "−10 to +10 %",
        "15",
        "1 part",
    )
    assert rows["REN"].every == "50 % of the spring class"


def test_a_preview_says_before_and_after_and_saves_nothing(sign_in: SignIn) -> None:
    for _door in range(3):
        make_running_door()
    compute()
    answer = posted(sign_in(), "LUB", interval_days=45, interval_cycles="", preview="1")
    preview = answer.context["preview"]
    # 250 cycles a week: by days alone, now and on days 90, or 45 and 90.
    assert "falls due about 9 times instead of 6" in preview.sentence
    assert len(preview.rows) == 13
    assert "Nothing is saved yet" in answer.content.decode()
    assert task("LUB").interval_days == 90
    assert not TaskChange.objects.exists()


def test_a_new_task_is_tried_as_never_done(sign_in: SignIn) -> None:
    make_running_door()
    make_running_door()
    compute()
    fresh = typed("LUB", name="Hinge pins", contains=[], interval_days=30, interval_cycles="")
    client = sign_in()
    answer = client.post("/tasks/new/", fresh | {"task_code": "PIN", "preview": "1"})
    assert answer.context["preview"].rows[0][1:3] == ("0", "2")
    saved = client.post("/tasks/new/", fresh | {"task_code": "PIN", "save": "1", "reason": "worn"})
    assert saved.status_code == 302
    assert task("PIN").name == "Hinge pins"


def test_saving_keeps_the_reason_and_shows_the_history(sign_in: SignIn) -> None:
    client = sign_in()
    answer = posted(client, "BAL", interval_days=120, save="1", reason="springs went slack")
    assert answer.status_code == 302
    [change] = client.get(page_of("BAL")).context["history"]
    assert change.fields == (("interval, days", "180", "120"),)
    assert change.reason == "springs went slack"


def test_saving_without_a_reason_keeps_what_was_typed(sign_in: SignIn) -> None:
    answer = posted(sign_in(), "BAL", interval_days=121, save="1")
    assert answer.status_code == 200
    assert "Say why" in answer.content.decode()
    assert 'value="121"' in answer.content.decode()
    assert task("BAL").interval_days == 180


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"interval_days": "0"}, "greater than or equal to 1"),
        ({"window_before_percent": "80"}, "less than or equal to 50"),
        ({"factor_salt": "-1"}, "greater than or equal to 0.05"),
        ({"spring_class_share": "0.5"}, "not both"),
        ({"contains": ["ANN"], "reason": "x"}, "would contain itself"),
        ({"reason": "x"}, "says this already"),
    ],
)
def test_what_makes_no_sense_is_said_and_not_saved(
    sign_in: SignIn, changes: dict[str, Any], said: str
) -> None:
    answer = posted(sign_in(), "BAL", save="1", **changes)
    assert answer.status_code == 200
    assert said in answer.content.decode()
    assert not TaskChange.objects.exists()


def test_a_kit_names_each_part_once_with_its_pieces(sign_in: SignIn) -> None:
    part, client = make_part(part_number="GREASE-1"), sign_in()
    twice = posted(client, "LUB", part_0="GREASE-1", pieces_0="1", part_1="GREASE-1", save="1")
    assert "in the kit already" in twice.content.decode()
    assert "How many are used each time?" in twice.content.decode()
    once = posted(client, "LUB", part_0="GREASE-1", pieces_0="2", save="1", reason="a tube each")
    assert once.status_code == 302
    assert list(task("LUB").kit.values_list("part", "quantity")) == [(part.pk, 2)]


def test_a_change_is_put_back_by_a_button(sign_in: SignIn) -> None:
    client = sign_in()
    change = alter("BAL", by=make_user(), interval_days=120)
    undo = reverse("task-change-undo", args=[change.pk])
    assert client.get(undo).status_code == 405
    answer = client.post(undo, follow=True)
    assert "Put back. Due dates are worked out anew." in answer.content.decode()
    assert task("BAL").interval_days == 180
    again = client.post(undo, follow=True)
    assert "undone already" in again.content.decode()


def test_who_sees_some_depots_may_try_and_not_save(sign_in: SignIn) -> None:
    depot = make_depot(code="OWN")
    make_running_door(depot=depot)
    make_running_door(depot=make_depot(code="FOREIGN"))
    compute()
    client = sign_in(depots=[depot])
    tried = posted(client, "LUB", interval_days=45, interval_cycles="", preview="1")
    assert tried.context["preview"].note == "Worked out for every door in service in sight."
    assert "falls due about 3 times instead of 2" in tried.context["preview"].sentence
    assert posted(client, "LUB", interval_days=45, save="1", reason="x").status_code == 403
    change = alter("BAL", by=make_user(), interval_days=120)
    assert client.post(reverse("task-change-undo", args=[change.pk])).status_code == 403
    assert task("LUB").interval_days == 90


def test_the_record_speaks_beside_the_sheet(sign_in: SignIn) -> None:
    """Defects found at the seal's check are told with their n and their range."""
    door = make_running_door()
    for each in range(6):
        make_fault(
            door=door,
            at_cycles=2_000 + 1_000 * each,
            found_at=door.readings.order_by("read_at")[2 + each].read_at,
            component=component("bottom_seal"),
            detected_by=DetectedBy.PREVENTIVE,
            is_failure=False,
        )
    compute()
    evidence = sign_in().get(page_of("SEA")).context["evidence"]
    assert " in 6 checks, " in evidence.short
    assert evidence.verdict.startswith("Checks find much: the interval may be too long.")
    [seal] = [line for line in evidence.lines if line.label == str(component("bottom_seal"))]
    assert "failed between checks" in seal.checks


def test_queries_stay_as_the_fleet_grows(sign_in: SignIn) -> None:
    client = sign_in()

    def queries() -> int:
        compute()
        with CaptureQueriesContext(connection) as captured:
            client.get("/tasks/")
            posted(client, "LUB", interval_days=45, preview="1")
        return len(captured)

    make_running_door()
    few = queries()
    for _door in range(3):
        make_running_door()
    assert queries() == few
