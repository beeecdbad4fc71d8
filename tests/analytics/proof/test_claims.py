"""What is claimed of every method, measured on fewer simulations with the same fixed seeds."""

from __future__ import annotations

import ast
from collections import Counter
from pathlib import Path

import numpy as np
import pytest

from analytics.proof import claim as claims_module
from analytics.proof import demand, libraries, usage_and_due
from analytics.proof.claim import QUICK, Claim, as_printed, share_inside
from analytics.proof.demand_world import (
    batches_then,
    known_lives,
    lives_of,
    positions_then,
    usage_then,
)
from analytics.proof.groups import GROUPS, table
from analytics.proof.made_fleet import follow, make_fleet
from analytics.synthetic.fleet import FleetPlan

# Demand and buying are asked world by world; the speed of this machine is the bench's matter.
SIMULATED = [name for name in GROUPS if name not in {"demand", "buying", "speed"}]


@pytest.mark.parametrize("group", SIMULATED)
def test_claims_hold(group: str) -> None:
    found = GROUPS[group](QUICK)
    assert found
    assert [claim for claim in found if not claim.holds] == []


@pytest.mark.parametrize("world", demand.WORLDS)
def test_demand_is_nearer_than_the_best_history_method(
    world: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Goals at 2,500 doors: pinball at most 0.90 of the best, 95 % quantile holds 90 % and more."""
    monkeypatch.setattr(demand, "WORLDS", {world: demand.WORLDS[world]})
    found = demand.claims(QUICK)
    assert len(found) == 4
    assert [claim for claim in (*found[:2], found[3]) if not claim.holds] == []


def test_libraries_are_compared_where_they_are_installed() -> None:
    assert libraries.missing() == []


def test_a_missing_library_is_told_not_hidden(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(libraries, "NEEDED", ("no_such_library",))
    assert libraries.missing() == ["no_such_library"]
    assert libraries.claims(QUICK) == []


@pytest.mark.parametrize(
    ("measured", "holds"), [(0.83, True), (0.96, True), (0.829, False), (float("nan"), False)]
)
def test_a_claim_holds_inside_its_range_only(measured: float, holds: bool) -> None:
    assert Claim("g", "s", measured, 0.83, 0.96).holds is holds


def test_targets_read_as_sentences() -> None:
    assert Claim("g", "s", 1.0, lowest=0.9).target == "at least 0.9"
    assert Claim("g", "s", 1.0, highest=0.08).target == "at most 0.08"
    assert Claim("g", "s", 1.0, 0.75, 0.86).target == "0.75 to 0.86"
    assert as_printed("g", "s", 0.1836, "0.184").target == "0.184 as printed"


def test_a_printed_answer_is_met_to_half_its_last_digit() -> None:
    assert as_printed("g", "s", 0.18449, "0.184").holds
    assert not as_printed("g", "s", 0.1846, "0.184").holds
    assert as_printed("g", "s", 0.1846, "0.184", 2).holds


def test_share_inside_counts_both_ends() -> None:
    assert share_inside([0, 0, 5], [0, 2, 3], [1, 1, 9]) == pytest.approx(1 / 3)


def test_the_table_names_what_does_not_hold() -> None:
    lines = table([Claim("lives", "covers", 0.5, 0.83, 0.96), Claim("lives", "near", 0.1, 0, 1)])
    assert lines[0].split() == ["claim", "target", "measured", "holds"]
    assert lines[1].endswith("NO")
    assert lines[2].endswith("yes")


def test_nothing_after_the_day_is_known_to_a_forecast() -> None:
    """A fleet whose record ends at the day says the same as one that goes on."""
    plan = FleetPlan(60, 400, 5, readings_per_door=20, future_days=60)
    fleet = make_fleet(plan)
    day = 300
    cut = follow(fleet, day)
    assert (cut.series.day[cut.series.read] < fleet.first_day + day).all()
    lives = lives_of(fleet, "converter")
    known = known_lives(fleet, lives, day, batches_then(fleet, lives, day))
    assert known.failures <= (lives.ended_day <= day).sum()
    there = positions_then(fleet, lives, usage_then(fleet, cut, day), day)
    serving = ((fleet.start_day < day) & (fleet.end_day > day)).sum()
    counted = sum(each.positions.sum() for each in (there.known, there.unknown) if each is not None)
    assert counted == serving


def test_the_day_of_reaching_cycles_is_that_of_the_daily_truth() -> None:
    fleet = make_fleet(FleetPlan(30, 200, 6, readings_per_door=10, future_days=30))
    door = np.arange(30)
    wanted = fleet.cycles[:, 150].astype(float)
    day = fleet.day_reached(door, wanted) - fleet.first_day
    ran = fleet.cycles[:, 150] > fleet.cycles[:, 149]
    assert day[ran] == pytest.approx(150.0)
    assert np.isinf(fleet.day_reached(door, fleet.cycles[:, -1] + 1.0)).all()


def test_naive_dates_are_a_straight_line_through_two_readings() -> None:
    fleet = make_fleet(FleetPlan(30, 200, 6, readings_per_door=10, future_days=30))
    followed = follow(fleet, 200)
    door = np.flatnonzero(np.diff(followed.series.offsets) >= 3)[:1]
    last = followed.series.offsets[door + 1] - 1
    step = followed.series.cycles[last] - followed.series.cycles[last - 1]
    found = usage_and_due._by_last_two(followed, door, followed.series.cycles[last] + step)
    gap = followed.series.day[last] - followed.series.day[last - 1]
    assert found == pytest.approx(followed.series.day[last] + gap)


def test_the_proof_imports_kernel_and_made_fleets_only() -> None:
    """No Django: it can be run on a machine that has nothing but numpy and scipy."""
    allowed = {"analytics.kernel", "analytics.proof", "analytics.synthetic"}
    found: Counter[str] = Counter()
    for path in Path(claims_module.__file__).parent.glob("*.py"):
        for node in ast.walk(ast.parse(path.read_text())):
            if isinstance(node, ast.ImportFrom) and node.module:
                found[".".join(node.module.split(".")[:2])] += 1
    assert {name for name in found if name.startswith(("analytics", "django"))} <= allowed
