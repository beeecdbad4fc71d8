"""Cycles between failures, and how long a component lasts: what the pages say, and to whom."""

from __future__ import annotations

from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from scipy.stats import chi2

from analytics.models import ComponentLife, DoorFailure, LifeEvidence
from fleetdoors.models import Component, Role
from tests.analytics.asking import ask
from tests.factories import component, make_depot, make_door_model, make_fitment, make_part
from tests.pages.conftest import SignIn
from tests.pages.running_fleet import (
    END_CYCLES,
    compute,
    make_failures,
    make_lives,
    make_running_door,
    make_wearing_fleet,
)

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("stopped_clock")]
PAGE = "/reliability/"


def shown(client: Client, url: str = PAGE, **asked: object) -> Any:
    """The page that the template was given."""
    answer = client.get(url, asked)
    assert answer.status_code == 200
    return answer.context["page"]


def body(client: Client, url: str = PAGE, **asked: object) -> str:
    answer = client.get(url, asked)
    assert answer.status_code == 200
    return answer.content.decode()


def numbers(page: Any) -> dict[str, list[str]]:
    """The rows behind "Show the numbers" by group."""
    return {row[0]: row[1:] for row in page.comparison.rows}


@pytest.mark.parametrize("url", [PAGE, "/reliability/fuse/"])
@pytest.mark.parametrize(
    ("role", "status"),
    [
        (Role.PLANNER, 200),
        (Role.BUYER, 200),
        (Role.ADMINISTRATOR, 200),
        (Role.TECHNICIAN, 403),
    ],
)
def test_reliability_is_for_planners_and_buyers(
    sign_in: SignIn, url: str, role: Role, status: int
) -> None:
    assert sign_in(role).get(url).status_code == status


def test_before_the_first_run_the_page_says_so(sign_in: SignIn) -> None:
    assert "No figures have been computed yet" in body(sign_in())


def test_a_run_without_doors_says_so(sign_in: SignIn) -> None:
    compute()
    assert "No door is in sight" in body(sign_in())


def test_bounds_are_those_of_the_chi_square_rule(sign_in: SignIn) -> None:
    """NIST/SEMATECH e-Handbook 8.4.5.1, time-truncated, by scipy's own distribution."""
    for ages in ([3_000, 9_000], [5_000], [12_000, 15_000, 18_000]):
        make_failures(door=make_running_door(), what=component("fuse"), ages=ages)
    compute()
    line = numbers(shown(sign_in()))[str(component("fuse"))]
    cycles, failures = 3 * END_CYCLES, 6
    expected = [
        3,
        cycles,
        failures,
        cycles / failures,
        2 * cycles / chi2.ppf(0.95, 2 * failures + 2),
        2 * cycles / chi2.ppf(0.05, 2 * failures),
    ]
    assert line == [f"{value:,.0f}" for value in expected]


@pytest.mark.parametrize("by", ["component", "door_model", "depot", "route_kind"])
def test_the_page_shows_what_scripts_are_given(sign_in: SignIn, by: str) -> None:
    north, south = make_depot(code="North"), make_depot(code="South")
    for number, (depot, route) in enumerate([(north, "parcel"), (south, "retail"), (south, "")]):
        door = make_running_door(depot=depot, route_kind=route)
        make_failures(door=door, what=component("fuse"), ages=[2_000 + 900 * number, 9_000])
        make_failures(door=door, what=component("spring"), ages=[4_000])
    compute()
    page = shown(sign_in(), by=by)
    given = sorted(
        (row["failures"], round(row["cycles"]), round(row["lower"]))
        for row in ask("mcbf", f"--by={by}")
    )
    seen = sorted(
        (int(row[2]), int(row[1].replace(",", "")), int(row[4].replace(",", "")))
        for row in numbers(page).values()
    )
    assert seen == given


def test_without_a_failure_only_a_lower_bound_is_given(sign_in: SignIn) -> None:
    make_failures(door=make_running_door(route_kind="parcel"), what=component("fuse"), ages=[900])
    make_running_door(route_kind="retail")
    compute()
    page = shown(sign_in(), by="route_kind")
    lines = {line.label: line for line in page.comparison.lines}
    # T / -ln(0.1): the one-sided 90 % bound.
    assert lines["retail"].value == "at least 8,686"
    assert lines["retail"].words.startswith("no failure yet")
    assert "too few to compare" in lines["parcel"].note
    assert "Too few failures to put the groups in an order" in page.comparison.finding


def test_a_single_group_is_not_ranked(sign_in: SignIn) -> None:
    make_failures(door=make_running_door(), what=component("fuse"), ages=range(1_000, 9_000, 900))
    compute()
    assert "only one group" in shown(sign_in(), by="depot").comparison.finding


def test_groups_are_ordered_and_an_overlap_is_said(sign_in: SignIn) -> None:
    door = make_running_door()
    make_failures(door=door, what=component("fuse"), ages=range(1_000, 19_000, 300))
    make_failures(door=door, what=component("spring"), ages=range(1_000, 19_000, 3_000))
    make_failures(door=door, what=component("motor"), ages=range(1_500, 19_000, 4_000))
    compute()
    page = shown(sign_in())
    assert [line.label for line in page.comparison.lines] == [
        str(component(code)) for code in ("fuse", "spring", "motor")
    ]
    assert "not proven" not in page.comparison.finding
    assert str(component("fuse")) in page.comparison.finding


def test_an_order_that_is_not_proven_is_said(sign_in: SignIn) -> None:
    door = make_running_door()
    make_failures(door=door, what=component("spring"), ages=range(1_000, 19_000, 3_000))
    make_failures(door=door, what=component("motor"), ages=range(1_500, 19_000, 4_000))
    compute()
    finding = shown(sign_in()).comparison.finding
    assert finding.endswith(
        f"Its range overlaps that of {component('motor')}, so their order is not proven."
    )


def test_doors_that_never_ran_get_a_sentence(sign_in: SignIn) -> None:
    make_running_door(cycles_a_week=0)
    compute()
    assert "No cycles are recorded yet" in body(sign_in())


def test_each_group_says_why(sign_in: SignIn) -> None:
    make_failures(
        door=make_running_door(serial="D-7"), what=component("fuse"), ages=[3_000], mode="FM10"
    )
    compute()
    [line] = shown(sign_in()).comparison.lines
    assert [item.value for item in line.why.evidence] == ["20,000", "1"]
    assert "χ²" in line.why.formula
    [row] = line.why.rows
    assert row[1:] == ["D-7", "3,000", str(component("fuse")), "fuse open"]
    assert "Why 20,000?" in body(sign_in())


def test_a_failure_without_cycles_is_placed_between_its_readings(sign_in: SignIn) -> None:
    door = make_running_door()
    make_failures(door=door, what=component("fuse"), ages=[10_000])
    fault = door.faults.get()
    fault.at_cycles = None
    fault.save()
    compute()
    assert DoorFailure.objects.current().get().at_cycles == pytest.approx(10_000, abs=40)
    assert shown(sign_in()).comparison.lines[0].why.rows[0][2].startswith(("9,9", "10,0"))


def test_foreign_depots_are_neither_counted_nor_named(sign_in: SignIn) -> None:
    own, foreign = make_depot(code="OWN"), make_depot(code="FOREIGN")
    make_failures(door=make_running_door(depot=own), what=component("fuse"), ages=[3_000])
    make_failures(
        door=make_running_door(serial="ELSEWHERE", depot=foreign),
        what=component("spring"),
        ages=range(1_000, 9_000, 500),
    )
    compute()
    client = sign_in(depots=[own])
    for by in ("component", "depot", "door_model", "route_kind"):
        text = body(client, by=by)
        assert "1 failure in 20,000 cycles of 1 door." in text
        assert "FOREIGN" not in text
        assert "ELSEWHERE" not in text
    assert client.get(PAGE, {"depot": "FOREIGN"}).status_code == 404


def test_the_choice_is_kept_in_the_address_and_nonsense_is_said(sign_in: SignIn) -> None:
    depot = make_depot(code="OWN")
    door = make_running_door(depot=depot, door_model=make_door_model(code="M-9"))
    make_failures(door=door, what=component("fuse"), ages=[3_000])
    make_failures(door=door, what=component("spring"), ages=[4_000, 5_000])
    compute()
    text = body(sign_in(), by="door_model", component="spring", depot="OWN")
    assert '<option value="door_model" selected>' in text
    assert '<option value="spring" selected>' in text
    assert "2 failures of the component" in text
    assert reverse("component-detail", args=["spring"]) in text
    assert "Not understood" in body(sign_in(), by="colour")


def test_ways_of_failing_come_by_number_and_by_hours(sign_in: SignIn) -> None:
    door = make_running_door()
    make_failures(
        door=door, what=component("fuse"), ages=[1_000, 2_000, 3_000], mode="FM10", hours=1
    )
    make_failures(door=door, what=component("spring"), ages=[4_000], mode="FM25", hours=30)
    make_failures(door=door, what=component("motor"), ages=[5_000])
    compute()
    by_number, by_hours = shown(sign_in()).modes
    assert [row[:2] for row in by_number.rows] == [["fuse open", "3"], ["spring broken", "1"]]
    assert by_number.note == "How it failed is noted for 4 of 5 failures."
    assert [row[:2] for row in by_hours.rows] == [["spring broken", "30"], ["fuse open", "3"]]
    assert by_hours.finding.startswith("Spring broken keeps doors off the road longest")


def test_without_a_way_of_failing_nothing_is_put_in_order(sign_in: SignIn) -> None:
    make_failures(door=make_running_door(), what=component("fuse"), ages=[1_000])
    compute()
    assert shown(sign_in()).modes == []
    assert "nothing to put in order" in body(sign_in())


def test_failures_that_crowd_late_are_called_more_frequent(sign_in: SignIn) -> None:
    for number in range(18):
        ages = [17_000 + 150 * number, 18_000, 19_500]
        make_failures(door=make_running_door(), what=component("fuse"), ages=ages)
    compute()
    page = shown(sign_in())
    assert page.trend.verdict == "Failures become more frequent with age"
    assert page.trend.picture.rows[-1][3] == "3.00"
    [given] = ask("trend")
    assert given["verdict"] == "deteriorating"
    assert page.trend.evidence[0].value == f"{given['robust_z']:.2f}"


def test_one_failure_shows_no_trend(sign_in: SignIn) -> None:
    make_failures(door=make_running_door(), what=component("fuse"), ages=[1_000])
    compute()
    page = shown(sign_in())
    assert page.trend.verdict == "Too few failures to see a change with age"
    assert "One door only" in page.trend.picture.note


def test_an_even_fleet_lists_nobody(sign_in: SignIn) -> None:
    for number in range(12):
        ages = range(1_000 + 100 * number, 19_000, 4_000)
        make_failures(door=make_running_door(), what=component("fuse"), ages=ages)
    compute()
    page = shown(sign_in())
    assert page.over_share.doors == []
    assert page.over_share.sentence.startswith("Nobody is listed: of 12 doors")


def test_a_door_that_fails_far_more_is_listed_with_its_reasons(sign_in: SignIn) -> None:
    model = make_door_model()
    for number in range(24):
        door = make_running_door(door_model=model)
        make_failures(door=door, what=component("fuse"), ages=[4_000 + 500 * number])
    bad = make_running_door(serial="BAD", door_model=model)
    make_failures(door=bad, what=component("spring"), ages=range(1_000, 20_000, 1_000))
    # Three visits for one repair within two weeks count once here, and thrice for the mean.
    make_failures(door=bad, what=component("motor"), ages=[6_000, 6_200, 6_400])
    compute()
    page = shown(sign_in())
    [listed] = page.over_share.doors
    assert "BAD" in listed.label
    assert listed.url == reverse("door-detail", args=["BAD"])
    assert str(component("spring")) in listed.words
    assert listed.words.startswith("20 failures")
    assert page.over_share.repeats.startswith("2 of 46 failures")


def test_one_door_cannot_have_more_than_its_share(sign_in: SignIn) -> None:
    make_failures(door=make_running_door(), what=component("fuse"), ages=[1_000, 2_000])
    compute()
    assert "compared with itself" in body(sign_in())


def test_names_from_the_record_are_text(sign_in: SignIn) -> None:
    odd = Component.objects.create(code="odd", name="<script>alert(1)</script>")
    make_failures(door=make_running_door(), what=odd, ages=[1_000])
    compute()
    for url in (PAGE, "/reliability/odd/"):
        text = body(sign_in(), url)
        assert "<script>alert" not in text
        assert "&lt;script&gt;alert" in text


@pytest.mark.parametrize("url", [PAGE, "/reliability/coil_cable/"])
def test_queries_stay_equal_when_rows_triple(sign_in: SignIn, url: str) -> None:
    client, depot = sign_in(), make_depot()

    def queries_with(doors: int) -> int:
        make_wearing_fleet(doors=doors, depot=depot)
        compute()
        with CaptureQueriesContext(connection) as queries:
            assert client.get(url).status_code == 200
        return len(queries)

    assert queries_with(2) == queries_with(4)


# How long a component lasts


def component_page(client: Client, code: str, **asked: object) -> Any:
    return shown(client, reverse("component-detail", args=[code]), **asked)


def test_a_component_that_nobody_knows_is_not_found(sign_in: SignIn) -> None:
    assert sign_in().get("/reliability/no-such-thing/").status_code == 404


def test_a_component_never_fitted_says_where_lives_come_from(sign_in: SignIn) -> None:
    make_failures(door=make_running_door(), what=component("fuse"), ages=[1_000])
    compute()
    assert "No part of this kind is on record as fitted" in body(sign_in(), "/reliability/fuse/")


def test_a_part_that_wears_out_is_told_in_plain_words(sign_in: SignIn) -> None:
    make_wearing_fleet(doors=40, depot=make_depot())
    compute()
    page = component_page(sign_in(), "coil_cable")
    [given] = ask("life", "--component=coil_cable")
    facts = {fact.label: fact for fact in page.life.facts}
    assert facts["Shape"].value == f"{given['shape_median']:.2f}"
    assert "wears out" in facts["Shape"].note
    assert facts["10 of 100 have failed by"].value == f"{given['b10_median']:,.0f} cycles"
    # The truth behind the seeds: half of a Weibull life of shape 3, scale 9,000 end by 7,965.
    half = float(facts["Half have failed by"].value.split()[0].replace(",", ""))
    assert half == pytest.approx(9_000 * 0.693147 ** (1 / 3), rel=0.08)
    assert page.life.prior == ""
    assert page.life.sentence.startswith("Of 100, about 90 still run at")
    assert f"{given['failures']} failed" in page.life.rests_on
    assert "Nothing speaks against one Weibull curve" in page.life.fit
    assert None not in (page.life.survival, page.life.plot, page.life.hazard)


def test_half_life_lies_where_the_posterior_of_the_kernel_has_it(sign_in: SignIn) -> None:
    """The evenly spread lives that pages keep stand for the whole posterior."""
    make_wearing_fleet(doors=20, depot=make_depot())
    compute()
    kept = LifeEvidence.objects.current().get().figures["draws"]
    life = ComponentLife.objects.current().get()
    b10 = sorted(
        scale * 0.1053605 ** (1 / shape)
        for shape, scale in zip(kept["shape"], kept["scale_cycles"], strict=True)
    )
    assert len(b10) == 200
    assert b10[100] == pytest.approx(life.b10_median, rel=0.02)
    assert b10[10] == pytest.approx(life.b10_lower, rel=0.04)
    assert b10[190] == pytest.approx(life.b10_upper, rel=0.04)


def test_lives_of_unknown_age_are_left_out_and_counted(sign_in: SignIn) -> None:
    make_wearing_fleet(doors=6, depot=make_depot())
    make_fitment(door=make_running_door(), component=component("coil_cable"), fitted_at_cycles=None)
    compute()
    page = component_page(sign_in(), "coil_cable")
    assert "1 of unknown age is left out." in page.life.rests_on
    assert "1 of unknown age" in page.forecast.picture.note


@pytest.mark.parametrize(
    ("ends", "said"),
    [
        ([[]] * 6, "No failure is recorded"),
        ([[7_000]] + [[]] * 5, "Only one failure"),
    ],
)
def test_too_few_failures_get_a_bound_and_no_more(
    sign_in: SignIn, ends: list[list[float]], said: str
) -> None:
    for each in ends:
        make_lives(door=make_running_door(), what=component("motor"), ends=each)
    compute()
    page = component_page(sign_in(), "motor", cost_preventive=10, cost_failure=90)
    assert said in page.life.sentence
    assert "at least 90 still run" in page.life.sentence
    assert page.life.facts == []
    assert page.life.hazard is None
    assert "cannot be weighed" in page.advice.problem
    assert page.forecast.picture is None
    assert "Mostly prior" in page.life.prior


def test_lives_that_all_end_at_one_age_get_a_sentence(sign_in: SignIn) -> None:
    for _ in range(5):
        make_fitment(
            door=make_running_door(),
            component=component("motor"),
            removed_at_cycles=5_000,
            removal="failed",
        )
    compute()
    page = component_page(sign_in(), "motor")
    assert "All failures lie at one age" in page.life.sentence
    assert page.life.facts == []
    assert page.forecast.picture is None


def test_a_life_that_rests_on_its_family_says_so_first(sign_in: SignIn) -> None:
    for ends in ([6_000], [9_000], [], []):
        make_lives(door=make_running_door(), what=component("spring"), ends=ends)
    compute()
    text = body(sign_in(), "/reliability/spring/")
    assert "Mostly prior: with 2 failures" in text
    assert text.index("Mostly prior") < text.index('id="life"')


@pytest.mark.parametrize(
    ("costs", "said"),
    [
        ({"cost_preventive": "0", "cost_failure": "900"}, "A cost of nothing"),
        ({"cost_preventive": "-4", "cost_failure": "900"}, "A cost of nothing"),
        ({"cost_preventive": "900", "cost_failure": "100"}, "Were the two swapped?"),
        ({"cost_preventive": "900", "cost_failure": "900"}, "Were the two swapped?"),
        ({"cost_preventive": "900"}, "Enter both costs"),
    ],
)
def test_costs_that_make_no_sense_get_a_sentence(
    sign_in: SignIn, costs: dict[str, str], said: str
) -> None:
    make_wearing_fleet(doors=8, depot=make_depot())
    compute()
    page = component_page(sign_in(), "coil_cable", **costs)
    assert said in page.advice.problem
    assert page.advice.evidence == []


@pytest.mark.parametrize("typed", ["dear", "nan", "inf", "1e400"])
def test_a_cost_that_is_no_number_is_said(sign_in: SignIn, typed: str) -> None:
    make_wearing_fleet(doors=8, depot=make_depot())
    compute()
    text = body(sign_in(), "/reliability/coil_cable/", cost_preventive=typed, cost_failure="900")
    assert "Not a number that could be used" in text


def test_advice_is_that_of_the_figures(sign_in: SignIn) -> None:
    make_wearing_fleet(doors=30, depot=make_depot())
    compute()
    page = component_page(sign_in(), "coil_cable", cost_preventive=100, cost_failure=800)
    [given] = ask(
        "interval", "--component=coil_cable", "--cost-preventive=100", "--cost-failure=800"
    )
    assert given["verdict"] == "advised"
    assert page.advice.verdict == "Advised"
    best = float(page.advice.evidence[0].value.split()[0].replace(",", ""))
    assert best == pytest.approx(given["best_cycles"], rel=0.03)


def test_without_costs_three_ratios_are_shown(sign_in: SignIn) -> None:
    make_wearing_fleet(doors=30, depot=make_depot())
    compute()
    rows = component_page(sign_in(), "coil_cable").advice.rows
    assert [row[0] for row in rows] == [f"{n} times as much" for n in (2, 5, 10)]
    assert rows[-1][1] == "Advised"


def test_parts_that_fail_by_chance_are_run_to_failure(sign_in: SignIn) -> None:
    for number in range(30):
        make_lives(
            door=make_running_door(), what=component("fuse"), ends=[200 + 450 * number, 19_000]
        )
    compute()
    page = component_page(sign_in(), "fuse", cost_preventive=100, cost_failure=500)
    [given] = ask("interval", "--component=fuse", "--cost-preventive=100", "--cost-failure=500")
    words = {"advised": "Advised", "unproven": "Unproven", "no benefit": "No benefit"}
    assert page.advice.verdict == words[given["verdict"]]


def test_parts_are_compared_where_several_are_fitted(sign_in: SignIn) -> None:
    old = make_part(part_number="CAB-A", component=component("coil_cable"))
    new = make_part(part_number="CAB-B", component=component("coil_cable"))
    depot = make_depot()
    make_wearing_fleet(doors=8, depot=depot, part=old)
    assert_alone = compute()
    assert component_page(sign_in(), "coil_cable").compared is None
    assert assert_alone.is_current
    make_wearing_fleet(doors=5, depot=depot, part=new)
    compute()
    compared = component_page(sign_in(), "coil_cable").compared
    assert [row[0] for row in compared.rows] == [str(old), str(new)]


def test_the_forecast_speaks_of_the_depots_in_sight(sign_in: SignIn) -> None:
    own, foreign = make_depot(), make_depot()
    make_wearing_fleet(doors=6, depot=own)
    make_wearing_fleet(doors=20, depot=foreign)
    compute()
    page = component_page(sign_in(depots=[own]), "coil_cable")
    assert page.forecast.picture.note.startswith("6 fitted in sight")
    everything = component_page(sign_in(), "coil_cable")
    assert everything.forecast.picture.note.startswith("26 fitted in sight")
