"""A part's page: what arrives and is left week by week, who uses it, and which number fails."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from analytics.models import PartOutlook
from fleetdoors.models import Depot, Part, Role
from inspections.models import OrderLine
from tests.factories import (
    NOW,
    component,
    make_depot,
    make_fitment,
    make_part,
    make_part_used,
    make_stock_count,
)
from tests.pages.conftest import SignIn
from tests.pages.running_fleet import compute, make_lives, make_running_door
from tests.pages.test_parts import make_outlook
from tests.stock_factories import make_placed_order, stocked

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("stopped_clock")]
TODAY = NOW.date()


def page_of(client: Client, part: Part, **asked: str) -> Any:
    answer = client.get(reverse("part-detail", args=[part.part_number], query=asked))
    assert answer.status_code == 200
    return answer.context["page"]


def with_order(*, named: date | None, placed_days_ago: int = 5) -> Part:
    """Three on the shelf, six needed a quarter, four ordered; lead time 10 days, give or take 3."""
    part, depot = make_part(part_number="P-1"), make_depot(code="N")
    make_outlook(part=part, depot=depot, on_order=4)
    order = make_placed_order(
        depot=depot, wanted={part: 4}, at=NOW - timedelta(days=placed_days_ago)
    )
    OrderLine.objects.filter(order=order).update(expected_on=named)
    return part


def arrives(page: Any) -> list[float]:
    return [float(row[2]) for row in page.shown.weeks.rows]


def test_a_named_day_brings_all_pieces_in_its_week(sign_in: SignIn) -> None:
    part = with_order(named=TODAY + timedelta(days=17))
    page = page_of(sign_in(), part)
    [arrival] = page.shown.weeks.arrivals
    assert arrival.value == "4 pieces"
    assert arrival.note.endswith("the day named")
    assert sum(arrives(page)) == pytest.approx(4, abs=0.3)
    assert arrives(page)[2] == 4


def test_without_a_day_it_comes_by_the_lead_times_known(sign_in: SignIn) -> None:
    part = with_order(named=None)
    page = page_of(sign_in(), part)
    [arrival] = page.shown.weeks.arrivals
    assert arrival.note.endswith("by the lead times known")
    # Five days waited of ten: most of it within a week, some later.
    assert arrives(page)[0] > arrives(page)[1] > 0
    assert sum(arrives(page)) == pytest.approx(4, abs=0.3)


def test_a_day_that_is_only_the_quotation_gives_way_to_lead_times_learned(
    sign_in: SignIn,
) -> None:
    part = with_order(named=TODAY + timedelta(days=9))
    line = OrderLine.objects.get(part=part)
    line.quoted_lead_days = 14
    line.save()
    row = PartOutlook.objects.get(part=part)
    row.explanation |= {"lead_receipts": 8.0}
    row.save()
    [learned] = page_of(sign_in(), part).shown.weeks.arrivals
    assert learned.note.endswith("by the lead times known")
    line.quoted_lead_days = 10
    line.save()
    [confirmed] = page_of(sign_in(), part).shown.weeks.arrivals
    assert confirmed.note.endswith("the day named")


def test_a_day_that_has_passed_is_late_and_still_comes(sign_in: SignIn) -> None:
    part = with_order(named=TODAY - timedelta(days=3), placed_days_ago=40)
    page = page_of(sign_in(), part)
    [arrival] = page.shown.weeks.arrivals
    assert arrival.note.startswith("late: ")
    # Longer than any lead time known: within a week.
    assert arrives(page)[0] == 4


def test_what_is_kept_for_work_is_off_the_shelf_at_once(sign_in: SignIn) -> None:
    part = make_part(part_number="P-1")
    row = make_outlook(part=part, depot=make_depot(), on_hand=6, mean=0.5)
    free = page_of(sign_in(), part).shown.weeks.rows[0][3]
    row.explanation |= {"reserved": 4.0}
    row.save()
    kept = page_of(sign_in(), part).shown.weeks.rows[0][3]
    assert (free, kept) == ("6", "2")


def test_pieces_on_order_without_an_order_here_are_told_apart(sign_in: SignIn) -> None:
    part = make_part(part_number="P-1")
    make_outlook(part=part, depot=make_depot(), on_order=7)
    [arrival] = page_of(sign_in(), part).shown.weeks.arrivals
    assert arrival.label == "From another depot, or noted at a count"
    assert arrival.value == "7 pieces"
    assert arrival.url == ""


def test_who_uses_it_counts_what_it_replaced(sign_in: SignIn) -> None:
    what = component("coil_cable")
    older = make_part(part_number="CAB-0", component=what)
    part = make_part(part_number="CAB-1", component=what)
    part.replaces = older
    part.save()
    here, there = make_depot(code="A"), make_depot(code="B")
    door, other = make_running_door(depot=here), make_running_door(depot=there)
    make_fitment(door=door, component=what, part=older, fitted_on=TODAY - timedelta(days=200))
    for days, number, at in ((20, part, None), (30, older, here), (400, part, here)):
        make_part_used(
            door=door, part=number, used_at=NOW - timedelta(days=days), quantity=2, depot=at
        )
    make_part_used(door=other, part=part, used_at=NOW - timedelta(days=9), quantity=1, depot=there)
    compute()
    users = page_of(sign_in(), part).users
    assert [(row.depot, row.fitted, row.used) for row in users.depots] == [
        (str(here), "1", "4"),
        (str(there), "0", "1"),
    ]
    assert [(took.url, took.pieces) for took in users.doors] == [
        (reverse("door-detail", args=[door.serial]), "4"),
        (reverse("door-detail", args=[other.serial]), "1"),
    ]
    own = page_of(sign_in(Role.BUYER, depots=[there]), part).users
    assert [row.depot for row in own.depots] == [str(there)]
    assert len(own.doors) == 1


def test_a_part_that_nobody_uses_says_so(sign_in: SignIn) -> None:
    part = make_part(part_number="P-1")
    make_outlook(part=part, depot=make_depot())
    answer = sign_in().get(reverse("part-detail", args=["P-1"]))
    assert "None is fitted on a door in sight" in answer.content.decode()
    assert "Nothing was counted, delivered or taken there yet" in answer.content.decode()


def test_the_last_movements_are_shown_with_what_they_rest_on(sign_in: SignIn) -> None:
    part, depot = make_part(part_number="P-1"), make_depot()
    stocked(depot=depot, part=part, pieces=5)
    make_outlook(part=part, depot=depot, on_hand=5)
    [line] = page_of(sign_in(), part).shown.movements
    assert (line.came, line.went, line.balance) == ("5", "", "5")


def two_numbers(*, ages: tuple[float, float]) -> tuple[Part, Part]:
    """Two revisions of a converter, 24 doors each, that fail at about these door cycles."""
    what = component("converter")
    old, new = (make_part(part_number=f"CONV-{each}", component=what) for each in "AB")
    Part.objects.filter(pk=new.pk).update(revision="B")
    depot = make_depot(code="N")
    for part, age in ((old, ages[0]), (new, ages[1])):
        for number in range(24):
            door = make_running_door(depot=depot)
            first = age + 60.0 * number
            last = [end for end in (first, 2 * first, 3 * first) if end < 19_500]
            make_lives(door=door, what=what, ends=last, part=part)
    make_stock_count(depot=depot, part=new, on_hand=9, counted_at=NOW - timedelta(days=3))
    compute()
    return old, new


def test_the_revision_that_fails_more_often_is_named(sign_in: SignIn) -> None:
    _old, new = two_numbers(ages=(12_000.0, 4_000.0))
    page = page_of(sign_in(), new)
    [said] = page.shown.alarms
    assert said.startswith("CONV-B, revision B: ")
    assert "times as often" in said
    rows = {row[0]: row for row in page.shown.compared.rows}
    assert float(rows[str(new)][3]) > 1.25 * float(rows[str(new)][4])
    # Learned from past weeks too: both are said, the number after the factor.
    outlook = PartOutlook.objects.current().get(part=new)
    outlook.explanation |= {"factor": 1.4, "factor_weeks": 30.0, "factor_alert": 1.0}
    outlook.save()
    learned, named = page_of(sign_in(), new).shown.alarms
    assert learned.startswith("In the last 30 weeks parts of this kind failed 1.40 times")
    assert named == said


def test_revisions_that_last_as_long_raise_no_alarm(sign_in: SignIn) -> None:
    old, new = two_numbers(ages=(9_000.0, 9_000.0))
    assert page_of(sign_in(), new).shown.alarms == []
    outlook = PartOutlook.objects.current().get(part=new)
    outlook.explanation |= {"factor": 1.4, "factor_weeks": 30.0, "factor_alert": 1.0}
    outlook.save()
    assert page_of(sign_in(), new).shown.alarms[1].startswith("No part number stands out")
    assert len(page_of(sign_in(), old).shown.compared.rows) == 2


def test_the_page_asks_as_often_for_more_orders_and_movements(sign_in: SignIn) -> None:
    part = with_order(named=None)
    depot, client = Depot.objects.get(code="N"), sign_in()
    stocked(depot=depot, part=part, pieces=2)

    def queries() -> int:
        with CaptureQueriesContext(connection) as asked:
            page_of(client, part)
        return len(asked)

    queries()
    before = queries()
    for _ in range(4):
        make_placed_order(depot=depot, wanted={part: 2})
        stocked(depot=depot, part=part, pieces=1)
    assert queries() == before
