import numpy as np
import pytest

from analytics.kernel.lifetimes import NotEstimableError
from analytics.kernel.recurrence import ONE_DOOR, RepairHistories, mean_cumulative_function


def histories(seed: int, doors: int, step: float = 100.0) -> RepairHistories:
    """Unequal windows, differing paces, ages rounded so that ties occur."""
    rng = np.random.default_rng(seed)
    start = np.floor(rng.uniform(0, 3000, doors) / step) * step
    end = start + step + np.floor(rng.uniform(0, 6000, doors) / step) * step
    pace = rng.gamma(2.0, 0.5, doors)
    count = rng.poisson(pace * (end - start) / 2000)
    door = np.repeat(np.arange(doors), count)
    age = start[door] + rng.uniform(0, 1, len(door)) * (end - start)[door]
    return RepairHistories.from_columns(start, end, door, np.ceil(age / step) * step)


def slow_curve(found: RepairHistories) -> list[tuple[float, int, int, float, float]]:
    """Age, at risk, failures, curve and sandwich variance, door by door at every age."""
    rows, curve = [], 0.0
    influence = np.zeros(found.doors)
    for age in np.unique(found.event_cycles):
        at_risk = (found.start_cycles < age) & (age <= found.end_cycles)
        own = np.array(
            [
                ((found.event_door == door) & (found.event_cycles == age)).sum()
                for door in range(found.doors)
            ]
        )
        n, rise = at_risk.sum(), own.sum() / at_risk.sum()
        curve += rise
        influence += at_risk * (own - rise) / n
        rows.append((age, int(n), int(own.sum()), curve, (influence**2).sum()))
    return rows


@pytest.mark.parametrize(("seed", "doors"), [(1, 3), (2, 12), (3, 40)])
def test_curve_and_sandwich_are_those_of_a_plain_count(seed, doors):
    found = histories(seed, doors)
    curve, slow = mean_cumulative_function(found), slow_curve(found)
    assert curve.at_cycles.tolist() == [row[0] for row in slow]
    assert curve.at_risk.tolist() == [row[1] for row in slow]
    assert curve.failures.tolist() == [row[2] for row in slow]
    assert curve.mcf == pytest.approx([row[3] for row in slow])
    assert curve.standard_error**2 == pytest.approx([row[4] for row in slow], abs=1e-12)


def test_two_failures_on_one_day_are_two():
    found = RepairHistories.from_columns([0, 0], [90, 90], [0, 0], [40, 40])
    curve = mean_cumulative_function(found)
    assert (curve.failures.tolist(), curve.mcf.tolist()) == ([2], [1.0])


def test_window_holds_its_end_and_not_its_start():
    found = RepairHistories.from_columns([0, 50], [50, 100], [0, 1], [50, 80])
    assert mean_cumulative_function(found).at_risk.tolist() == [1, 1]


def test_failure_at_the_very_start_counts_its_own_door():
    found = RepairHistories.from_columns([0, 0], [90, 90], [0, 1], [0, 60])
    assert mean_cumulative_function(found).at_risk.tolist() == [1, 2]


def test_limits_hold_the_true_curve():
    inside = []
    for seed in range(80):
        rng = np.random.default_rng(seed)
        end = rng.uniform(500, 4000, 60)
        count = rng.poisson(end * 0.001 * rng.gamma(2.0, 0.5, 60))
        door = np.repeat(np.arange(60), count)
        age = rng.uniform(0, 1, len(door)) * end[door]
        curve = mean_cumulative_function(RepairHistories.from_columns(end * 0, end, door, age))
        row = int(np.argmin(np.abs(curve.at_cycles - 1500)))
        truth = curve.at_cycles[row] * 0.001
        inside.append(curve.lower[row] <= truth <= curve.upper[row])
    assert 0.8 <= np.mean(inside) <= 0.97


def test_one_door_has_a_curve_without_limits():
    curve = mean_cumulative_function(RepairHistories.from_columns([0], [90], [0], [40]))
    assert curve.mcf.tolist() == [1.0]
    assert np.isnan(curve.standard_error).all()
    assert curve.reason == ONE_DOOR


def test_no_failure_says_so():
    with pytest.raises(NotEstimableError, match="No failure is recorded"):
        mean_cumulative_function(RepairHistories.from_columns([0], [90], [], []))


@pytest.mark.parametrize(
    ("start", "end", "door", "age", "message"),
    [
        ([-1], [5], [0], [1], "a window starts at 0 or later: row 0 has -1"),
        ([6], [5], [0], [6], "a window ends at or after its start: row 0 has 5"),
        ([0], [5], [1], [3], "an event belongs to one of the doors: row 0 has 1"),
        ([0], [5], [0], [7], "an event lies within the window of its door: row 0 has 7"),
        ([0, 1], [5], [0], [3], "every door needs a start and an end"),
        ([0], [5], [0, 0], [3], "every event needs a door and an age"),
    ],
)
def test_wrong_rows_are_named(start, end, door, age, message):
    with pytest.raises(ValueError, match=message):
        RepairHistories.from_columns(start, end, door, age)
