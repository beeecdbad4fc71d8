"""The lives really have the Weibull parameters that the truth names."""

from collections.abc import Callable
from math import sqrt

import numpy as np
import pytest
from lifelines import WeibullFitter

from analytics.synthetic.fleet import FleetPlan
from analytics.synthetic.scenario import SCENARIOS, SOCKETS
from tests.analytics.synthetic.conftest import MadeFleet, Row

PLAN = FleetPlan(2_500, 900, 7, "steady", readings_per_door=5)


def ages(lives: list[Row], end_cycles: dict[str, int]) -> np.ndarray:
    """Entry age, final age and whether it failed by itself, one row a life."""
    rows = []
    for life in lives:
        born = int(life["born_at_cycles"])
        last = int(life["ended_at_cycles"] or end_cycles[life["door"]])
        failed = life["end"] == "failed" and life["shock"] == "no"
        rows.append((int(life["observed_from_cycles"]) - born, last - born, failed))
    return np.array(rows, dtype=float)


@pytest.fixture(scope="module")
def steady(make_fleet: Callable[[FleetPlan], MadeFleet]) -> MadeFleet:
    return make_fleet(PLAN)


@pytest.fixture(scope="module")
def end_cycles(steady: MadeFleet) -> dict[str, int]:
    return {row["door"]: int(row["cycles_at_end"]) for row in steady.rows("truth/doors")}


@pytest.mark.parametrize("component", sorted({socket.component for socket in SOCKETS}))
def test_failures_match_the_true_cumulative_hazard(
    steady: MadeFleet, end_cycles: dict[str, int], component: str
) -> None:
    """Events minus integrated hazard is a martingale: their ratio is 1 but for chance."""
    lives = [row for row in steady.rows("truth/lives") if row["component"] == component]
    entry, last, failed = ages(lives, end_cycles).T
    shape = np.array([float(row["shape"]) for row in lives])
    scale = np.array([float(row["scale_cycles"]) for row in lives])
    expected = ((last / scale) ** shape - (entry / scale) ** shape).sum()
    assert failed.sum() > 300
    assert abs(failed.sum() - expected) < 4 * sqrt(expected)


# Shape and scale as the plan's documentation states them, written here anew.
@pytest.mark.parametrize(
    ("component", "shape", "scale"),
    [
        ("converter", 1.4, 45_000),
        ("coil_cable", 2.5, 30_000),
        ("motor", 2.0, 70_000),
        ("spring", 3.0, 25_000),
        ("switch", 0.9, 40_000),
        ("fuse", 1.0, 60_000),
    ],
)
def test_lifelines_finds_the_true_weibull(
    steady: MadeFleet, end_cycles: dict[str, int], component: str, shape: float, scale: float
) -> None:
    """lifelines 0.30 (maximum likelihood, censored, delayed entry) on doors that are not bad."""
    sound = {r["door"] for r in steady.rows("truth/doors") if float(r["hazard_factor"]) == 1}
    lives = [
        row
        for row in steady.rows("truth/lives")
        if row["component"] == component and row["door"] in sound
    ]
    entry, last, failed = ages(lives, end_cycles).T
    kept = last > entry
    fitted = WeibullFitter().fit(last[kept], failed[kept], entry=entry[kept])
    assert abs(fitted.rho_ - shape) < 4 * fitted.summary.loc["rho_", "se(coef)"]
    assert abs(fitted.lambda_ - scale) < 4 * fitted.summary.loc["lambda_", "se(coef)"]


def test_bad_doors_fail_more_often(steady: MadeFleet) -> None:
    doors = steady.rows("truth/doors")
    bad = {row["door"] for row in doors if float(row["hazard_factor"]) == 4}
    assert 0.015 < len(bad) / len(doors) < 0.045
    cycles = {r["door"]: int(r["cycles_at_end"]) - int(r["opening_cycles"]) for r in doors}
    fuses = [
        row["door"]
        for row in steady.rows("truth/lives")
        if row["component"] == "switch" and row["end"] == "failed"
    ]
    rate_bad = sum(door in bad for door in fuses) / sum(cycles[door] for door in bad)
    rate_all = sum(door not in bad for door in fuses) / sum(
        many for door, many in cycles.items() if door not in bad
    )
    assert 2.5 < rate_bad / rate_all < 6.0


def test_springs_are_changed_at_their_planned_age(steady: MadeFleet) -> None:
    planned = [
        int(row["ended_at_cycles"]) - int(row["born_at_cycles"])
        for row in steady.rows("truth/lives")
        if row["component"] == "spring" and row["end"] == "preventive"
    ]
    assert max(planned) <= 18_000 * 1.08
    assert np.mean(np.array(planned) > 17_000) > 0.5


def test_future_lives_go_on_where_the_record_stops(steady: MadeFleet) -> None:
    running = {
        (row["door"], row["component"], row["position"], row["born_at_cycles"])
        for row in steady.rows("truth/lives")
        if row["end"] == "running"
    }
    future = steady.rows("truth/future_lives")
    first = {}
    for row in future:
        first.setdefault((row["door"], row["component"], row["position"]), row)
    assert len(first) > 1_000
    assert {(*key, row["born_at_cycles"]) for key, row in first.items()} <= running
    assert all(row["ended_on"] > PLAN.until.isoformat() for row in future)


@pytest.mark.parametrize("name", SCENARIOS)
def test_each_scenario_is_what_it_says(
    make_fleet: Callable[[FleetPlan], MadeFleet], name: str
) -> None:
    plan = FleetPlan(600, 400, 3, name, readings_per_door=6)
    fleet = make_fleet(plan)
    lives, doors = fleet.rows("truth/lives"), fleet.rows("truth/doors")
    steady_fleet = make_fleet(FleetPlan(600, 400, 3, "steady", readings_per_door=6))
    old = [row for row in lives if int(row["observed_from_cycles"]) > int(row["born_at_cycles"])]
    facts = {
        "steady": 0.10 < np.mean([row["age_known"] == "no" for row in old]) < 0.20,
        "wear_out": median_opening(fleet) < 0.25 * median_opening(steady_fleet),
        "unknown_ages": 0.55 < np.mean([row["age_known"] == "no" for row in old]) < 0.65,
        "growth": 0.26 < np.mean([int(row["opening_cycles"]) == 0 for row in doors]) < 0.41,
        "even_year": 1.04 < winter_use(steady_fleet) / winter_use(fleet) < 1.15,
        "usage_jump": 1.25 < late_use(fleet) / late_use(steady_fleet) < 1.55,
        "new_revision": {r["part"] for r in lives if r["component"] == "converter"}
        >= {"FD-CONV-12-32", "FD-CONV-12-32-B"},
        "lumpy": sum(r["shock"] == "yes" for r in lives)
        > 2 * sum(r["shock"] == "yes" for r in steady_fleet.rows("truth/lives")),
        "demo": len({row["task"] for row in fleet.rows("tasks_done")}) == 15,
    }
    assert facts[name]


def late_use(fleet: MadeFleet) -> float:
    """Cycles of the fleet in the ten weeks after the record's end."""
    rows = fleet.rows("truth/weekly_cycles")
    days = [name for name in rows[0] if name != "door"]
    at = days.index(fleet.plan.until.isoformat())
    return sum(int(row[days[at + 10]]) - int(row[days[at]]) for row in rows)


def winter_use(fleet: MadeFleet) -> float:
    """Use in the weeks of November to January against those of May to July; parcels lead."""
    rows = fleet.rows("truth/weekly_cycles")
    days = [name for name in rows[0] if name != "door"]
    month = np.array([int(day[5:7]) for day in days[1:]])
    ran = np.diff([sum(int(row[day]) for row in rows) for day in days])
    return float(ran[np.isin(month, (11, 12, 1))].mean() / ran[np.isin(month, (5, 6, 7))].mean())


def median_opening(fleet: MadeFleet) -> float:
    return float(np.median([int(row["opening_cycles"]) for row in fleet.rows("truth/doors")]))
