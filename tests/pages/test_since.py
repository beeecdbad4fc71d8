"""What changed since a person last looked: what is news, for whom, and until when."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from analytics.models import Cause, Computation, DueState, DueTask
from analytics.reports import since_figures
from analytics.reports.since_page import MOST_LINES
from fleetdoors.models import Depot, Role
from inspections.models import LastLook
from inspections.services.last_look import mark_as_looked
from tests.factories import (
    NOW,
    component,
    make_depot,
    make_door,
    make_fault,
    make_part,
    make_reading,
    make_truck,
    make_user,
)
from tests.pages.conftest import SignIn
from tests.pages.planner_rows import (
    days,
    make_due,
    make_figures,
    make_outlook,
    make_run,
    make_suspect,
)
from tests.schedule_factories import make_acceptance, make_choice
from tests.truck_factories import make_defect_report, make_hold

pytestmark = [
    pytest.mark.django_db,
    pytest.mark.usefixtures("stopped_clock", "recompute_requests"),
]
PAGE = "/since/"
SECTIONS = {
    "late", "faults", "reports", "held", "let_go", "plans", "nights", "readings", "run_outs",
}  # fmt: skip


def shown(client: Client) -> Any:
    answer = client.get(PAGE)
    assert answer.status_code == 200
    return answer.context["page"]


def told(client: Client) -> dict[str, list[str]]:
    """The lines of each section."""
    return {each.key: [line.words for line in each.lines] for each in shown(client).sections}


def seen(client: Client, **changed: str) -> Any:
    """Say that the page as it stands was seen."""
    fields = {"until": NOW.isoformat(), "mark": shown(client).mark} | changed
    return client.post(reverse("since-seen"), fields)


def make_news(run: Computation, depot: Depot, mark: str, hours_ago: float = 1) -> None:
    """One thing of every kind, so many hours ago."""
    at = NOW - timedelta(hours=hours_ago)
    door = make_door(serial=f"D-{mark}", truck=make_truck(fleet_number=f"T-{mark}", depot=depot))
    make_figures(run=run, door=door)
    make_due(run=run, door=door, state=DueState.LATE, due_on=days(-11))
    make_fault(door=door, found_at=at, component=component("roller"))
    make_defect_report(door=door, reported_at=at)
    hold, other = make_hold(door=door, because="drops"), make_hold(door=door, because="reverse")
    type(hold).objects.filter(pk=hold.pk).update(entered_at=at)
    type(hold).objects.filter(pk=other.pk).update(
        entered_at=NOW - timedelta(days=99), placed_at=NOW - timedelta(days=99), lifted_at=at,
        end_entered_at=at, signed_by="Kim", lifted_by=make_user(),
        what_was_done="new spring",
    )  # fmt: skip
    plan = make_acceptance(depot=depot)
    type(plan).objects.filter(pk=plan.pk).update(accepted_at=at)
    choice = make_choice(door=door)
    type(choice).objects.filter(pk=choice.pk).update(chosen_at=at)
    reading = make_reading(door=door, counter_value=470, read_at=at)
    type(reading).objects.filter(pk=reading.pk).update(entered_at=at)
    make_suspect(run=run, reading=reading, cause=Cause.UNCHANGED)
    make_outlook(run=run, part=make_part(part_number=f"P-{mark}"), depot=depot, suggested_order=2)


@pytest.mark.parametrize(
    ("role", "status"), [(Role.PLANNER, 200), (Role.BUYER, 403), (Role.TECHNICIAN, 403)]
)
def test_the_news_are_the_planner_s(sign_in: SignIn, role: Role, status: int) -> None:
    assert sign_in(role).get(PAGE).status_code == status
    answer = sign_in(role).post(reverse("since-seen"))
    assert answer.status_code == (302 if status == 200 else 403)


def test_where_nothing_changed_the_page_says_so(sign_in: SignIn) -> None:
    client = sign_in()
    assert shown(client).is_empty
    assert "Nothing changed" in client.get(PAGE).content.decode()
    assert "not marked anything as seen yet" in client.get(PAGE).content.decode()


def test_every_kind_of_news_is_told_with_its_place(sign_in: SignIn) -> None:
    make_news(make_run(), make_depot(code="NORTH"), "1")
    client = sign_in()
    lines = told(client)
    assert set(lines) == SECTIONS
    assert lines["late"] == ["T-1: Lubricate, due 14 Nov 2026"] or "due" in lines["late"][0]
    assert "Door D-1" in lines["faults"][0]
    assert lines["held"] == ["T-1: door drops"]
    assert lines["let_go"] == ["T-1: new spring, signed by Kim"]
    assert "accepted by" in lines["plans"][0]
    assert lines["nights"][0].startswith("Door D-1: in the night of")
    for section in shown(client).sections:
        for line in section.lines:
            assert client.get(line.url).status_code == 200


def test_only_an_explicit_word_makes_it_old(sign_in: SignIn) -> None:
    make_news(make_run(), make_depot(code="NORTH"), "1")
    client = sign_in()
    for _times in range(2):
        assert set(told(client)) == SECTIONS
    assert not LastLook.objects.exists()
    answer = seen(client)
    assert answer.headers["Location"] == reverse("today")
    assert shown(client).is_empty
    assert not shown(client).is_first
    # Another person has not looked.
    assert set(told(sign_in())) == SECTIONS


def test_what_came_after_the_look_is_new_and_nothing_else(sign_in: SignIn) -> None:
    run, depot = make_run(), make_depot(code="NORTH")
    make_news(run, depot, "1", hours_ago=5)
    client = sign_in()
    seen(client, until=(NOW - timedelta(hours=2)).isoformat())
    assert shown(client).is_empty
    make_news(run, depot, "2", hours_ago=1)
    lines = told(client)
    assert set(lines) == SECTIONS
    assert {len(each) for each in lines.values()} == {1}
    assert "T-2" in lines["late"][0]


def test_a_task_that_a_reading_moved_back_is_newly_late(sign_in: SignIn) -> None:
    """Its window closed long ago by the new figures, and it was not late at the look."""
    run = make_run()
    row = make_due(run=run, door=make_door(), state=DueState.SOON, due_on=days(5))
    client = sign_in()
    seen(client)
    DueTask.objects.filter(pk=row.pk).update(
        state=DueState.LATE, due_on=days(-40), window_closes_on=days(-30)
    )
    assert len(told(client)["late"]) == 1


def test_figures_that_came_in_meanwhile_are_not_marked_unseen(sign_in: SignIn) -> None:
    run, depot = make_run(), make_depot(code="NORTH")
    client = sign_in()
    mark = shown(client).mark
    make_news(run, depot, "1")
    answer = seen(client, mark=mark)
    assert answer.headers["Location"] == PAGE
    assert not LastLook.objects.exists()
    for until in ("", "yesterday", "2026-11-25T12:00", (NOW + timedelta(days=1)).isoformat()):
        assert seen(client, until=until).headers["Location"] == PAGE
    assert not LastLook.objects.exists()


def test_a_look_never_goes_back() -> None:
    kim = make_user()
    mark_as_looked(person=kim, until=NOW, stood={"late": [], "run_outs": [[1, 2]]})
    mark_as_looked(person=kim, until=NOW - timedelta(days=1), stood={"late": [], "run_outs": []})
    look = LastLook.objects.get()
    assert (look.looked_at, look.stood["run_outs"]) == (NOW, [[1, 2]])


def test_other_depots_have_no_news_here(sign_in: SignIn) -> None:
    own, foreign = make_depot(code="OWN"), make_depot(code="FOREIGN")
    make_news(make_run(), foreign, "F")
    assert shown(sign_in(depots=[own])).is_empty


def test_many_are_counted_and_the_queries_stay(sign_in: SignIn) -> None:
    run, depot, counts = make_run(), make_depot(code="NORTH"), []
    client = sign_in()
    for first, last in ((0, 3), (3, 9)):
        for number in range(first, last):
            make_news(run, depot, str(number))
        with CaptureQueriesContext(connection) as queries:
            client.get(PAGE)
        counts.append(len(queries))
    assert counts[0] == counts[1]
    for number in range(9, 25):
        make_news(run, depot, str(number))
    more = {each.key: (len(each.lines), each.more) for each in shown(client).sections}
    assert set(more.values()) == {(MOST_LINES, 25 - MOST_LINES)}


def test_the_first_page_leads_there(sign_in: SignIn) -> None:
    make_door()
    assert PAGE in sign_in().get("/").content.decode()
    assert PAGE not in sign_in(Role.TECHNICIAN).get("/").content.decode()


def late_news(client: Client) -> tuple[int, set[str]]:
    """How many tasks became late, and those shown, by truck."""
    found = [each for each in shown(client).sections if each.key == "late"]
    words = {line.words.partition(":")[0] for each in found for line in each.lines}
    return sum(len(each.lines) + each.more for each in found), words


def make_late(run: Computation, depot: Depot, names: range, closed: int = -1) -> None:
    for number in names:
        truck = make_truck(fleet_number=f"L-{number}", depot=depot)
        door = make_door(serial=f"L-{number}", truck=truck)
        make_due(run=run, door=door, state=DueState.LATE, due_on=days(closed - 10))


def test_beyond_what_is_remembered_new_ones_are_told_all_the_same(
    sign_in: SignIn, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Few at the look and very many now; then very many at the look, told by their windows."""
    monkeypatch.setattr(since_figures, "MOST_REMEMBERED", 3)
    run, depot = make_run(), make_depot(code="NORTH")
    make_late(run, depot, range(3), closed=-40)
    client = sign_in()
    seen(client)
    assert LastLook.objects.get().stood["late"] is not None
    make_late(run, depot, range(3, 8), closed=-30)
    assert late_news(client) == (5, {f"L-{number}" for number in range(3, 8)})


def test_very_many_late_tasks_are_marked_by_their_tally(
    sign_in: SignIn, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(since_figures, "MOST_REMEMBERED", 3)
    run, depot = make_run(), make_depot(code="NORTH")
    make_late(run, depot, range(5), closed=-40)
    client = sign_in()
    mark = shown(client).mark
    assert shown(client).mark == mark
    make_late(run, depot, range(5, 6), closed=0)
    assert seen(client, mark=mark).headers["Location"] == PAGE
    assert seen(client).headers["Location"] == reverse("today")
    assert LastLook.objects.get().stood["late"] is None
    # The window that closed on the day of the look cannot be told from one that closed after it.
    assert late_news(client) == (1, {"L-5"})


def test_never_more_late_tasks_are_read_than_can_be_remembered(
    sign_in: SignIn, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(since_figures, "MOST_REMEMBERED", 3)
    run, depot = make_run(), make_depot(code="NORTH")
    make_late(run, depot, range(30), closed=-40)
    client = sign_in()
    with CaptureQueriesContext(connection) as queries:
        client.get(PAGE)
    of_late = [each["sql"] for each in queries if "duetask" in each["sql"]]
    assert of_late
    unbounded = [sql for sql in of_late if "LIMIT" not in sql and "COUNT" not in sql]
    assert unbounded == []
