"""Use has its stated pattern; readings are irregular; wrong ones are wrong as labelled."""

from collections import defaultdict
from collections.abc import Callable

import numpy as np
import pytest

from analytics.synthetic.fleet import Block, FleetPlan, make_block, make_frame
from analytics.synthetic.readings import CAUSES, FAULT_RATES
from analytics.synthetic.scenario import ROUTE_CLASSES
from tests.analytics.synthetic.conftest import MadeFleet

PLAN = FleetPlan(1_000, 900, 7, readings_per_door=31)


@pytest.fixture(scope="module")
def block() -> Block:
    return make_block(PLAN, make_frame(PLAN), 0)


def test_a_moment_and_its_cycles_lead_to_each_other(block: Block) -> None:
    """`day_of` and `minute_of` against a search minute by minute."""
    rng = np.random.default_rng(1)
    usage = block.usage
    doors = np.flatnonzero(usage.cycles[:, -1] > usage.cycles[:, 0])
    door = rng.choice(doors, 200)
    span = usage.cycles[door, -1] - usage.cycles[door, 0]
    cycles = usage.cycles[door, 0] + 1 + (rng.random(200) * span).astype(int)
    day = usage.day_of(door, cycles)
    minute = usage.minute_of(door, day, cycles)
    for who, when, at, wanted in zip(door, day, minute, cycles, strict=True):
        assert usage.cycles[who, when] < wanted <= usage.cycles[who, when + 1]
        minutes = np.arange(1440)
        along = usage.at(np.full(1440, who), np.full(1440, when), minutes)
        assert np.flatnonzero(along >= wanted)[0] == at


def test_cycles_never_run_back_and_stop_outside_service(block: Block) -> None:
    daily = np.diff(block.usage.cycles, axis=1)
    assert daily.min() == 0
    for door in np.flatnonzero(block.doors.start_day > 0)[:50]:
        assert daily[door, : block.doors.start_day[door]].sum() == 0
    retired = np.flatnonzero(block.doors.end_day < PLAN.days)
    assert len(retired) > 0
    assert all(daily[door, block.doors.end_day[door] :].sum() == 0 for door in retired)


def test_route_classes_differ_as_stated(block: Block) -> None:
    """Medians 62, 34, 14 and 22 cycles a day; linen trucks rest on Sundays."""
    for number, kind in enumerate(ROUTE_CLASSES):
        usual = block.usage.usual_cycles_per_day[block.doors.route == number]
        error = 1.25 * kind.log_sd / np.sqrt(len(usual))
        assert abs(np.log(np.median(usual) / kind.median_cycles_per_day)) < 4 * error
    weekday = ((PLAN.first_day + np.arange(PLAN.horizon)).astype(np.int64) + 3) % 7
    linen = block.usage.cycles[block.doors.route == 1]
    assert np.diff(linen, axis=1)[:, weekday == 6].sum() == 0
    assert np.diff(linen, axis=1)[:, weekday == 0].sum() > 0


def test_one_day_s_cycles_scatter_three_times_as_much_as_poisson(block: Block) -> None:
    """Variance over mean of like weekdays one week apart: half the mean square difference."""
    daily = np.diff(block.usage.cycles, axis=1)[:, : PLAN.days].astype(float)
    ratios = []
    for start in range(200, 260):
        pair = daily[:, [start, start + 7]]
        pair = pair[(pair > 0).all(axis=1) & (pair.mean(axis=1) > 20)]
        ratios.append(np.mean(np.diff(pair, axis=1)[:, 0] ** 2 / 2 / pair.mean(axis=1)))
    assert 2.7 < np.median(ratios) < 3.6


def test_readings_are_as_many_as_asked_and_irregular(block: Block) -> None:
    many = np.bincount(block.readings.door, minlength=len(block.doors))
    assert abs(many.mean() / 31 - 1) < 0.08
    gaps = np.diff(block.readings.day)[np.diff(block.readings.door) == 0]
    assert gaps.min() >= 1
    assert 0.7 < gaps.std() / gaps.mean() < 1.4


def test_faults_come_as_often_as_stated(block: Block) -> None:
    share = np.bincount(block.readings.cause, minlength=len(CAUSES)) / len(block.readings)
    for code, rate in FAULT_RATES.items():
        assert 0.55 * rate < share[code] < 1.15 * rate, CAUSES[code]


def digits(value: str, width: int) -> str:
    return value.zfill(width)


def test_labelled_faults_are_what_they_are_called(
    make_fleet: Callable[[FleetPlan], MadeFleet],
) -> None:
    fleet = make_fleet(FleetPlan(1_000, 700, 13, readings_per_door=40))
    models = {row["door_model"]: int(row["counter_digits"]) for row in fleet.rows("door_models")}
    width = {row["door"]: models[row["door_model"]] for row in fleet.rows("doors")}
    before = defaultdict(str)
    shown_before: dict[tuple[str, str], str] = {}
    for row in fleet.rows("readings"):
        shown_before[row["door"], row["read_at"]] = before[row["door"]]
        before[row["door"]] = row["counter_value"]
    shown = {(r["door"], r["read_at"]): r["counter_value"] for r in fleet.rows("readings")}
    seen = defaultdict(int)
    for row in fleet.rows("truth/counter_faults"):
        key, cause = (row["door"], row["read_at"]), row["cause"]
        assert shown[key] == row["shown_value"]
        wide = width[row["door"]]
        typed, true = digits(row["shown_value"], wide), digits(row["true_value"], wide)
        differ = [place for place in range(wide) if typed[place] != true[place]]
        seen[cause] += 1
        if cause in ("rollover", "exchange"):
            assert not differ
            assert cause == "exchange" or int(typed) < int(shown_before[key])
        elif cause == "swapped_digits":
            first, second = differ
            assert second == first + 1
            assert (typed[first], typed[second]) == (true[second], true[first])
        elif cause == "wrong_digit":
            assert len(differ) == 1
        elif cause == "stuck":
            assert row["shown_value"] == shown_before[key]
        else:
            assert differ
    assert set(seen) == set(CAUSES) - {""}
