"""How often to look at a component, and which of its places fails: what the page says of both."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import Any

import numpy as np
import pytest
from django.test import Client
from scipy.stats import chi2

from analytics.kernel.delay_fit import interval_that_finds
from analytics.kernel.inspection_interval import (
    DelayTime,
    InspectionCosts,
    inspection_cost_rate,
)
from analytics.models import CheckEvidence
from fleetdoors.models import DoorUnit
from inspections.codes import DetectedBy
from tests.factories import component, make_fault, make_fitment, make_task_done, task
from tests.pages.conftest import SignIn
from tests.pages.running_fleet import (
    CYCLES_A_WEEK,
    END_CYCLES,
    FIRST_READ,
    compute,
    make_failures,
    make_lives,
    make_running_door,
    make_wearing_fleet,
)

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("stopped_clock")]


def shown(client: Client, code: str, **asked: object) -> Any:
    answer = client.get(f"/reliability/{code}/", asked)
    assert answer.status_code == 200
    return answer.context["page"]


def moment_at(cycles: float) -> datetime:
    """When a running door reached so many cycles."""
    return FIRST_READ + timedelta(weeks=cycles / CYCLES_A_WEEK)


def make_checked_door(
    code: str, *, found: Sequence[int] = (), failed: Sequence[int] = (), every: int = 4_000
) -> DoorUnit:
    """A door whose seal is looked at again and again; defects found then, failures between."""
    door, what = make_running_door(), component(code)
    for at in range(every, END_CYCLES, every):
        make_task_done(door=door, task=task("SEA"), at_cycles=at, done_at=moment_at(at))
    for at in found:
        make_fault(
            door=door,
            component=what,
            at_cycles=at + 3,
            found_at=moment_at(at + 3),
            is_failure=False,
            detected_by=DetectedBy.PREVENTIVE,
        )
    make_failures(door=door, what=what, ages=failed)
    return door


def test_enough_of_both_gives_an_interval_with_its_evidence(sign_in: SignIn) -> None:
    for _door in range(4):
        make_checked_door("bottom_seal", found=[8_000, 16_000], failed=[7_500, 11_000])
    compute()
    kept = CheckEvidence.objects.current().get(component=component("bottom_seal"))
    assert (kept.found, kept.failed, kept.usual_cycles) == (8, 8, 4_000)
    page = shown(sign_in(), "bottom_seal")
    assert "To find 90 % of its defects before they fail, look every" in page.checks.sentence
    assert "Looked at every 4,000 cycles, as now, about" in page.checks.sentence
    low, middle, high = kept.figures["delay_cycles"]
    assert low < middle < high
    [eight, nine, nineteen] = page.checks.rows
    assert nine[0] == "90 %"
    assert nine[1] == f"{float(f'{interval_that_finds(0.9, middle):.2g}'):,.0f}"
    assert [float(row[1].replace(",", "")) for row in (eight, nine, nineteen)] == sorted(
        (float(row[1].replace(",", "")) for row in page.checks.rows), reverse=True
    )
    assert {line.label: line.value for line in page.checks.evidence}["Failed between checks"] == "8"


@pytest.mark.parametrize(
    ("found", "failed", "said"),
    [
        ([8_000], [7_000], "1 found at a check before it failed, 1 failed between checks"),
        ([], [5_000, 7_000, 9_000, 11_000, 13_000], "no check found it before it failed, and 5"),
        ([8_000, 12_000, 16_000, 8_000, 12_000], [], "All 5 defects were found at a check"),
    ],
)
def test_too_little_says_what_is_there(
    sign_in: SignIn, found: list[int], failed: list[int], said: str
) -> None:
    make_checked_door("bottom_seal", found=found, failed=failed)
    compute()
    page = shown(sign_in(), "bottom_seal")
    assert said in page.checks.sentence
    assert page.checks.rows == []


def test_without_a_check_or_a_fault_too_little_is_known(sign_in: SignIn) -> None:
    make_lives(door=make_running_door(), what=component("motor"), ends=[])
    make_lives(door=make_running_door(), what=component("fuse"), ends=[])
    compute()
    client = sign_in()
    assert "Too little to say" in shown(client, "motor").checks.sentence
    assert "No preventive task looks at it" in shown(client, "fuse").checks.sentence


def test_failures_before_the_first_check_are_left_out(sign_in: SignIn) -> None:
    make_checked_door("bottom_seal", failed=[1_000, 2_000, 9_000])
    compute()
    assert CheckEvidence.objects.current().get().failed == 1


def make_sided_motor(door: DoorUnit, side: str, ends: Sequence[int]) -> None:
    start = 0
    for end in ends:
        make_fitment(
            door=door, component=component("motor"), position=side, fitted_at_cycles=start,
            removed_at_cycles=end, removal="failed",
        )  # fmt: skip
        start = end
    make_fitment(door=door, component=component("motor"), position=side, fitted_at_cycles=start)


def test_places_of_a_door_have_figures_of_their_own(sign_in: SignIn) -> None:
    """Bounds by scipy's own chi-square, NIST/SEMATECH e-Handbook 8.4.5.1."""
    for _door in range(3):
        door = make_running_door()
        make_sided_motor(door, "left", [4_000, 9_000])
        make_sided_motor(door, "right", [])
    compute()
    page = shown(sign_in(), "motor")
    left, right = page.places.lines
    ran = 3 * END_CYCLES
    assert (left.label, right.label) == ("Left", "Right")
    assert left.value == f"{ran / 6:,.0f}"
    assert f"{2 * ran / chi2.ppf(0.95, 14):,.0f}" in left.words
    assert f"{2 * ran / chi2.ppf(0.05, 12):,.0f}" in left.words
    assert "no failure yet" in right.words
    assert f"once in {2 * ran / 6:,.0f} cycles" in page.places.together
    assert "up to 2 places" in page.places.together


def test_one_place_is_not_compared_with_itself(sign_in: SignIn) -> None:
    make_sided_motor(make_running_door(), "left", [4_000])
    compute()
    assert shown(sign_in(), "motor").places is None


def test_other_ways_to_plan_a_change_stand_beside_the_advice(sign_in: SignIn) -> None:
    """Minimal repair: scale (c_o / (c_m (b - 1)))^(1/b), Barlow and Hunter (1960)."""
    make_wearing_fleet(doors=12, depot=make_running_door().mountings.get().truck.depot)
    compute()
    page = shown(sign_in(), "coil_cable", cost_preventive=100, cost_failure=900)
    said = {line.label: line.value for line in page.advice.evidence}
    life = {line.label: line.value for line in page.life.facts}
    shape = float(life["Shape"])
    scale = float(life["Scale: 63 of 100 have failed by"].split()[0].replace(",", ""))
    mended = float(said["If a failure is only mended"].split()[0].replace(",", ""))
    assert mended == pytest.approx(scale * (100 / 900 / (shape - 1)) ** (1 / shape), rel=0.01)
    assert "cycles" in said["All changed at once, whatever their age"]


def test_lives_that_lie_too_close_for_a_shape_get_a_sentence(sign_in: SignIn) -> None:
    for end in (5_000, 5_001, 5_000, 5_001):
        make_fitment(
            door=make_running_door(),
            component=component("motor"),
            removed_at_cycles=end,
            removal="failed",
        )
    compute()
    page = shown(sign_in(), "motor", cost_preventive=10, cost_failure=90)
    assert "the failures lie too close" in page.life.sentence
    assert page.life.facts == []
    assert page.life.hazard is None
    assert "cannot be weighed" in page.advice.problem


def costed(client: Client, **costs: object) -> Any:
    """What the task's page says of looking at these costs."""
    answer = client.get("/tasks/SEA/", costs)
    assert answer.status_code == 200
    return answer.context["looks"]


def test_the_task_says_which_interval_costs_least(sign_in: SignIn) -> None:
    for _door in range(4):
        make_checked_door("bottom_seal", found=[8_000, 16_000], failed=[7_500, 11_000])
    compute()
    client = sign_in()
    assert costed(client).sentence.startswith("Enter the three costs")
    said = costed(client, cost_look=10, cost_defect=100, cost_failure=900)
    figures = CheckEvidence.objects.current().get().figures
    part = DelayTime(figures["defects_per_cycle"][1], 1.0, figures["delay_cycles"][1])
    # A thousand intervals tried one by one in place of the search.
    tried = np.geomspace(100, 100_000, 1_000)
    money = InspectionCosts(10, 100, 900)
    rates = inspection_cost_rate(tried, (part,), money)
    best = float(f"{tried[np.argmin(rates)]:.2g}")
    assert f"doing it every {best:,.0f} cycles costs least" in said.sentence
    costs = {line.label: line.value for line in said.evidence}
    assert float(costs["Cost at that interval"].replace(",", "")) == pytest.approx(
        10_000 * rates.min(), rel=0.01
    )
    assert "saves about" in said.sentence
    assert costed(client, cost_look=1e6, cost_defect=1, cost_failure=2).sentence.startswith(
        "At these costs looking never pays"
    )


@pytest.mark.parametrize(
    ("costs", "said"),
    [
        ({"cost_look": 10, "cost_defect": 900, "cost_failure": 100}, "Were the two swapped?"),
        ({"cost_look": 0, "cost_defect": 1, "cost_failure": 2}, "A cost of nothing"),
        ({"cost_look": "ten", "cost_defect": 1, "cost_failure": 2}, "Enter the three costs"),
        ({"cost_look": "nan", "cost_defect": 1, "cost_failure": 2}, "Enter the three costs"),
    ],
)
def test_costs_that_make_no_sense_are_answered(
    sign_in: SignIn, costs: dict[str, object], said: str
) -> None:
    for _door in range(4):
        make_checked_door("bottom_seal", found=[8_000, 16_000], failed=[7_500, 11_000])
    compute()
    assert said in costed(sign_in(), **costs).sentence


def test_too_little_on_record_asks_for_no_costs(sign_in: SignIn) -> None:
    make_checked_door("bottom_seal", found=[8_000], failed=[7_000])
    compute()
    client = sign_in()
    assert "cannot be weighed yet" in costed(client).sentence
    assert 'name="cost_look"' not in client.get("/tasks/SEA/").content.decode()
    assert client.get("/tasks/CTR/").context["looks"] is None
