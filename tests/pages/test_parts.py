"""What will run out and when: the list, its sheet, and one part's page."""

from __future__ import annotations

import csv
from datetime import date, timedelta
from decimal import Decimal
from io import StringIO
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from analytics.models import DemandMethod, PartOutlook
from fleetdoors.models import Depot, Part, Role
from tests.analytics.asking import ask
from tests.factories import (
    NOW,
    component,
    make_depot,
    make_door,
    make_part,
    make_part_used,
    make_stock_count,
)
from tests.pages.conftest import SignIn
from tests.pages.planner_rows import days, make_run
from tests.pages.running_fleet import compute, make_running_door, make_wearing_fleet

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("stopped_clock")]
LIST = "/parts/"


def make_outlook(
    *,
    part: Part,
    depot: Depot,
    mean: float = 6.0,
    on_hand: int | None = 3,
    on_order: int | None = 0,
    order: int | None = 0,
    run_out_on: date | None = None,
    method: DemandMethod = DemandMethod.HISTORY,
) -> PartOutlook:
    """A computed line of the shown run, made directly."""
    run = PartOutlook.objects.current().first()
    return PartOutlook.objects.create(
        generation=run.generation if run else make_run(),
        part=part,
        depot=depot,
        horizon_days=90,
        mean=mean,
        variance=mean * 1.2,
        p05=2,
        p10=3,
        p50=6,
        p90=9,
        p95=10,
        method=method,
        on_hand=on_hand,
        on_order=on_order,
        service_level=0.95,
        reorder_point=4,
        order_up_to=7,
        fill_rate=0.983,
        suggested_order=order,
        run_out_on=run_out_on,
        explanation={"weeks": 52.0, "used": 24.0, "lead_days": 10.0, "lead_sd_days": 3.0},
    )


def body(client: Client, url: str = LIST, **asked: object) -> str:
    answer = client.get(url, asked)
    assert answer.status_code == 200
    return answer.content.decode()


def listed(client: Client, **asked: object) -> list[str]:
    """Part and depot of each row shown, in order."""
    answer = client.get(LIST, asked)
    assert answer.status_code == 200
    rows = [row.record for row in answer.context["table"].paginated_rows]
    return [f"{row.part.part_number} {row.depot.code}" for row in rows]


def sheet(client: Client, **asked: object) -> list[dict[str, str]]:
    answer = client.get("/parts.csv", asked)
    assert answer.status_code == 200
    text = b"".join(answer.streaming_content).decode("utf-8-sig")
    return list(csv.DictReader(StringIO(text)))


def part_url(part: Part, **asked: str) -> str:
    return reverse("part-detail", args=[part.part_number], query=asked)


def page_of(client: Client, part: Part, **asked: str) -> Any:
    answer = client.get(part_url(part, **asked))
    assert answer.status_code == 200
    return answer.context["page"]


@pytest.mark.parametrize("name", ["part-list", "part-csv", "part-detail"])
@pytest.mark.parametrize(
    ("role", "status"),
    [
        (Role.PLANNER, 200),
        (Role.BUYER, 200),
        (Role.ADMINISTRATOR, 200),
        (Role.TECHNICIAN, 403),
    ],
)
def test_parts_are_for_planners_and_buyers(
    sign_in: SignIn, name: str, role: Role, status: int
) -> None:
    part = make_part(part_number="P-1")
    url = reverse(name, args=[part.part_number] if name == "part-detail" else [])
    assert sign_in(role).get(url).status_code == status


def test_before_the_first_run_the_page_says_so(sign_in: SignIn) -> None:
    assert "No figures have been computed yet" in body(sign_in())


def test_an_empty_catalogue_says_what_to_do(sign_in: SignIn) -> None:
    compute()
    assert "The catalogue holds no part" in body(sign_in())


def test_a_fleet_without_stock_is_told_to_count_it(sign_in: SignIn) -> None:
    make_outlook(part=make_part(), depot=make_depot(), on_hand=None, order=None)
    text = body(sign_in())
    assert "No shelf was counted yet" in text
    assert "count it first" in text
    assert "never counted here" in text


def test_the_soonest_out_comes_first_and_the_undated_last(sign_in: SignIn) -> None:
    depot = make_depot(code="N")
    for number, day in (("P-1", days(40)), ("P-2", None), ("P-3", days(2))):
        make_outlook(part=make_part(part_number=number), depot=depot, run_out_on=day)
    assert listed(sign_in()) == ["P-3 N", "P-1 N", "P-2 N"]
    assert listed(sign_in(), sort="-run_out") == ["P-1 N", "P-3 N", "P-2 N"]


def test_rows_say_when_how_sure_and_how_many_packs(sign_in: SignIn) -> None:
    part = make_part(name="Board fuse")
    part.pack_size = 10
    part.save()
    make_outlook(part=part, depot=make_depot(), order=20, run_out_on=days(12))
    text = body(sign_in())
    assert "Mon 7 Dec 2026" in text
    assert "in 12 days" in text
    assert "6.0 (3 to 9)" in text
    assert "from use in the last 52 weeks" in text
    assert "20 (2 packs of 10)" in text


def test_the_answer_counts_what_to_order_and_what_it_costs(sign_in: SignIn) -> None:
    depot = make_depot()
    for cost, currency, order in (("2.50", "USD", 4), ("10", "EUR", 1), ("7", "USD", 0)):
        part = make_part(unit_cost=Decimal(cost))
        part.currency = currency
        part.save()
        make_outlook(part=part, depot=depot, order=order)
    assert "2 of 3 shelves should be filled up today, for about 10 EUR + 10 USD." in body(sign_in())


def test_the_list_narrows_by_depot_words_and_what_to_order(sign_in: SignIn) -> None:
    north, south = make_depot(code="N"), make_depot(code="S")
    fuse = make_part(part_number="F-1", name="Board fuse", component=component("fuse"))
    spring = make_part(part_number="S-1", name="Spring left", component=component("spring"))
    make_outlook(part=fuse, depot=north, order=5)
    make_outlook(part=spring, depot=south)
    client = sign_in()
    assert listed(client, depot="S") == ["S-1 S"]
    assert listed(client, to_order="on") == ["F-1 N"]
    for words in ("F-1", "board FUSE", "fuse board"):
        assert listed(client, search=words) == ["F-1 N"]
    assert "No part is listed" in body(client, search="no such part")
    assert 'name="to_order" id="id_to_order" checked' in body(client, to_order="on")


def test_foreign_depots_are_shown_nowhere(sign_in: SignIn) -> None:
    own, foreign = make_depot(code="OWN"), make_depot(code="FOREIGN")
    part = make_part(part_number="P-1")
    make_outlook(part=part, depot=own, mean=6.0)
    make_outlook(part=part, depot=foreign, mean=77.7)
    client = sign_in(depots=[own])
    for url in (LIST, part_url(part)):
        text = body(client, url)
        assert "FOREIGN" not in text
        assert "77.7" not in text
    assert [row["Depot"] for row in sheet(client)] == ["OWN"]
    for url in (LIST, part_url(part), "/parts.csv"):
        assert client.get(url, {"depot": "FOREIGN"}).status_code == 404


def test_the_sheet_holds_what_is_listed_and_no_formula(sign_in: SignIn) -> None:
    north, south = make_depot(code="N"), make_depot(code="S")
    part = make_part(part_number="P-1", name="=HYPERLINK(1)")
    make_outlook(part=part, depot=north, order=3, run_out_on=days(5))
    make_outlook(part=part, depot=south)
    [row] = sheet(sign_in(), depot="N")
    assert row["Order now, pieces"] == "3"
    assert row["Needed, expected pieces"] == "6.0"
    assert row["Runs out about"] == "2026-11-30"
    assert not row["Name"].startswith("=")


def test_names_from_the_record_are_text(sign_in: SignIn) -> None:
    part = make_part(part_number="<b>1</b>", name="<script>alert(1)</script>")
    make_outlook(part=part, depot=make_depot())
    for url in (LIST, part_url(part)):
        text = body(sign_in(), url)
        assert "<script>alert" not in text
        assert "<b>1</b>" not in text


@pytest.mark.parametrize("number", ["A/12", "..", "P 1?x=2#%", "Ölfeder~9"])
def test_an_odd_part_number_has_a_page(sign_in: SignIn, number: str) -> None:
    part = make_part(part_number=number)
    make_outlook(part=part, depot=make_depot())
    assert part_url(part) in body(sign_in()).replace("&amp;", "&").replace("&#x27;", "'")
    assert page_of(sign_in(), part).shown is not None


def test_a_part_that_nobody_knows_is_not_found(sign_in: SignIn) -> None:
    assert sign_in().get("/parts/NO-SUCH-PART/").status_code == 404


def test_a_part_without_an_outlook_says_so(sign_in: SignIn) -> None:
    part = make_part()
    assert "Nothing is computed for this part" in body(sign_in(), part_url(part))


def test_queries_of_the_list_stay_equal_when_rows_triple(sign_in: SignIn) -> None:
    client, depot = sign_in(), make_depot()

    def queries_with(more: int) -> int:
        for _ in range(more):
            make_outlook(part=make_part(), depot=depot, order=2)
        with CaptureQueriesContext(connection) as queries:
            assert client.get(LIST).status_code == 200
        return len(queries)

    assert queries_with(4) == queries_with(8)


def test_queries_of_a_part_stay_equal_when_rows_triple(sign_in: SignIn) -> None:
    client = sign_in()
    part = make_part(component=component("coil_cable"))

    def queries_with(doors: int) -> int:
        make_wearing_fleet(doors=doors, depot=make_depot(), part=part)
        compute()
        with CaptureQueriesContext(connection) as queries:
            assert client.get(part_url(part)).status_code == 200
        return len(queries)

    assert queries_with(24) == queries_with(40)


@pytest.fixture
def cable() -> Part:
    """A coil cable fitted on 30 doors of one depot, two on the shelf and five on order."""
    depot = make_depot(code="N")
    part = make_part(
        part_number="CAB-A", component=component("coil_cable"), unit_cost=Decimal("118")
    )
    make_wearing_fleet(doors=30, depot=depot, part=part)
    make_stock_count(
        depot=depot,
        part=part,
        counted_at=NOW - timedelta(days=3),
        on_hand=2,
        on_order=5,
        expected_on=days(9),
        service_level=0.9,
    )
    compute()
    return part


def test_a_part_says_why_and_shows_the_figures_of_scripts(sign_in: SignIn, cable: Part) -> None:
    page = page_of(sign_in(), cable)
    [given] = ask("demand", "--part=CAB-A")
    lines = {line.label: line for line in page.shown.why.evidence}
    assert lines["Needed in 90 days"].value == f"{given['mean']:.1f} pieces"
    assert f"{given['p10']} to {given['p90']}" in lines["Needed in 90 days"].note
    assert "from the ages of 30 fitted" in lines["Needed in 90 days"].note
    assert lines["Order at"].value == str(given["reorder_point"])
    assert lines["Order up to"].value == str(given["order_up_to"])
    assert lines["Service level wanted"].value == "90.0 %"
    assert "not the service level" in lines["Fill rate"].note
    assert lines["On hand"].value == "2"
    assert lines["On order"].note == "expected Fri 4 Dec 2026"
    assert "position = 2 on hand + 5 on order = 7" in page.shown.why.formula
    order = given["suggested_order"]
    assert page.shown.why.sentence.startswith(f"Order {order}" if order else "Order nothing now")
    assert (f"= {order}" in page.shown.why.formula) is bool(order)


def test_the_doors_that_drive_the_need_are_the_old_ones(sign_in: SignIn, cable: Part) -> None:
    page = page_of(sign_in(), cable)
    expected = [float(door.expected) for door in page.shown.doors]
    assert expected == sorted(expected, reverse=True)
    ages = [float(door.age.replace(",", "")) for door in page.shown.doors]
    assert ages[0] > ages[-1]
    # Thirty doors, the twelve worst shown: less than the whole need, more than their even share.
    mean = PartOutlook.objects.current().get().mean
    assert 12 / 30 * mean < sum(expected) < mean


def test_the_weeks_ahead_grow_no_less_likely_to_come_up_short(sign_in: SignIn, cable: Part) -> None:
    weeks = page_of(sign_in(), cable).shown.weeks
    heights = [float(week.height) for week in weeks.strip.weeks]
    assert len(heights) == 13
    assert heights == sorted(heights)
    assert weeks.strip.limit_words == "10 %"


def test_pictures_tell_need_ages_and_use(sign_in: SignIn, cable: Part) -> None:
    depot = Depot.objects.get(code="N")
    door = make_running_door(depot=depot)
    older = make_part(part_number="CAB-0", component=cable.component)
    cable.replaces = older
    cable.save()
    make_part_used(door=door, part=cable, used_at=NOW - timedelta(days=40), quantity=4, depot=depot)
    make_part_used(door=door, part=older, used_at=NOW - timedelta(days=70), quantity=3, depot=None)
    make_part_used(
        door=door, part=cable, used_at=NOW - timedelta(days=40), quantity=90, depot=make_depot()
    )
    compute()
    need, ages, use = page_of(sign_in(), cable, depot="N").shown.pictures
    assert need.finding.endswith("pieces will be needed in 90 days, 8 times in 10")
    assert sum(int(row[1]) for row in ages.rows) == 30
    assert use.finding == "7 used in the last 12 months"
    assert dict(tuple(row) for row in use.rows)["2026-10"] == "4"


def test_a_part_on_no_door_and_never_used_draws_nothing(sign_in: SignIn) -> None:
    part = make_part()
    make_door()
    compute()
    page = page_of(sign_in(), part)
    assert page.shown.pictures == []
    assert page.shown.weeks is None
    assert "this forecast of nothing is weak" in page.shown.why.not_yet


def test_a_depot_is_chosen_in_the_address(sign_in: SignIn) -> None:
    north, south = make_depot(code="N"), make_depot(code="S")
    part = make_part()
    make_outlook(part=part, depot=north, run_out_on=days(30))
    make_outlook(part=part, depot=south, run_out_on=days(3))
    client = sign_in()
    assert page_of(client, part).shown.depot == str(south)
    assert page_of(client, part, depot="N").shown.depot == str(north)
    assert [row.is_shown for row in page_of(client, part, depot="N").rows] == [False, True]


def test_a_shelf_above_its_level_orders_nothing(sign_in: SignIn) -> None:
    part = make_part()
    make_outlook(part=part, depot=make_depot(), on_hand=9)
    page = page_of(sign_in(), part)
    assert page.shown.why.sentence.startswith("Order nothing now")
    assert page.shown.why.formula.endswith("above 4, so nothing")


def test_what_past_weeks_taught_is_said(sign_in: SignIn) -> None:
    part = make_part()
    outlook = make_outlook(part=part, depot=make_depot(), method=DemandMethod.BASE)
    page = page_of(sign_in(), part)
    assert page.shown.why.not_yet.startswith("Not yet in it: a correction")
    outlook.explanation |= {"factor": 1.31, "factor_weeks": 40.0, "factor_alert": 1.0}
    outlook.save()
    page = page_of(sign_in(), part)
    lines = {line.label: line for line in page.shown.why.evidence}
    assert lines["Learned from past weeks"].value == "× 1.31"
    assert "from 40 weeks" in lines["Learned from past weeks"].note
    assert page.shown.alarms[0].startswith("In the last 40 weeks parts of this kind failed 1.31")
    assert page.shown.alarms[1].startswith("Only one part number is on record")


def test_planned_changes_and_other_reasons_are_named(sign_in: SignIn) -> None:
    part = make_part()
    outlook = make_outlook(part=part, depot=make_depot(), method=DemandMethod.BASE)
    outlook.explanation |= {"planned_at_cycles": 18_000.0, "taken_along": 7.0}
    outlook.save()
    lines = {line.label: line for line in page_of(sign_in(), part).shown.why.evidence}
    assert lines["Changed by plan"].value == "at 18,000 cycles"
    assert lines["For another reason"].value == "7 pieces"
