"""What is expected of each door: the fleet's own number, spread by age, model and route."""

from __future__ import annotations

import numpy as np
import pytest

from analytics.assessment.groups import Windows
from analytics.assessment.shares import assess_shares


def windows(
    start: list[float], end: list[float], door: list[int], at: list[float], component: list[int]
) -> Windows:
    return Windows(
        np.array(start),
        np.array(end),
        np.array(door, dtype=np.int64),
        np.array(at, dtype=float),
        np.array(component, dtype=np.int64),
    )


def alike(doors: int) -> tuple[np.ndarray]:
    return (np.zeros(doors, dtype=np.int64),)


def test_expected_failures_add_up_to_those_counted() -> None:
    rng = np.random.default_rng(1)
    doors = 50
    end = rng.uniform(5_000, 80_000, doors)
    door = rng.integers(0, doors, 300)
    found = windows(
        [0.0] * doors,
        end.tolist(),
        door.tolist(),
        (rng.random(300) * end[door]).tolist(),
        [1] * 300,
    )
    classes = (rng.integers(0, 3, doors), rng.integers(0, 4, doors))
    shares = assess_shares(found, np.arange(300), np.arange(300) * 20.0, classes)
    assert shares.repeats == 0
    assert shares.expected.sum() == pytest.approx(shares.counted.sum())
    assert (shares.expected > 0).all()


def test_cycles_run_while_young_expect_what_the_young_do() -> None:
    # Ten doors fail once each, all of them late: an old window holds what a young one does not.
    start = [0.0] * 10 + [0.0, 8_000.0]
    end = [10_000.0] * 10 + [2_000.0, 10_000.0]
    found = windows(start, end, list(range(10)), [9_000.0 + 50 * k for k in range(10)], [1] * 10)
    shares = assess_shares(found, np.arange(10), np.zeros(10), alike(12))
    assert shares.expected[11] > 3 * shares.expected[10]


def test_a_class_that_fails_more_is_expected_to() -> None:
    doors, own = 40, np.repeat([0, 1], 20)
    door = [*range(20, 40)] * 4 + [*range(20)]
    at = [2_000.0 + 60 * k for k in range(len(door))]
    found = windows([0.0] * doors, [10_000.0] * doors, door, at, [1] * len(door))
    shares = assess_shares(found, np.arange(len(door)), np.arange(len(door)) * 20.0, (own,))
    # 80 and 20 were counted where 50 were due: (80 + 10) / (50 + 10) and (20 + 10) / (50 + 10).
    assert shares.expected[own == 1].sum() == pytest.approx(50 * 1.5)
    assert shares.expected[own == 0].sum() == pytest.approx(50 * 0.5)


def test_repeats_are_those_of_one_component_on_one_door_within_two_weeks() -> None:
    door, component = [0, 0, 0, 0, 1], [1, 1, 2, 1, 1]
    found = windows([0.0] * 2, [9_000.0] * 2, door, [10.0, 20, 30, 40, 50], component)
    days = np.array([0.0, 13.0, 13.0, 40.0, 0.0])
    shares = assess_shares(found, np.arange(5), days, alike(2))
    assert shares.is_first.tolist() == [True, False, True, True, True]
    assert shares.counted.tolist() == [3.0, 1.0]
    assert shares.repeats == 1


def test_only_the_failures_that_count_are_looked_at() -> None:
    found = windows([0.0] * 2, [9_000.0] * 2, [0, 1], [10.0, 20.0], [1, 2])
    shares = assess_shares(found, np.array([1]), np.zeros(2), alike(2))
    assert shares.counted.tolist() == [0.0, 1.0]
    assert shares.expected.sum() == pytest.approx(1.0)


def test_without_failures_nothing_is_expected() -> None:
    found = windows([0.0], [9_000.0], [], [], [])
    shares = assess_shares(found, np.array([], dtype=np.int64), np.array([]), alike(1))
    assert shares.expected.tolist() == [0.0]
