"""Checks of the power law behind the slope: the limit of its distance, and when they are left."""

from __future__ import annotations

import numpy as np
import pytest

from analytics.assessment.power_law import LARGEST_DISTANCE, check_power_law
from analytics.kernel.recurrence import RepairHistories
from analytics.reports.reliability_power_law import power_law_evidence


def made(seed: int, doors: int, slope: float, each: float, start: float = 0.0) -> RepairHistories:
    """Doors whose failures follow a power law up to 10,000 cycles."""
    rng = np.random.default_rng(seed)
    counts = rng.poisson(each, doors)
    at = 10_000 * rng.uniform(0, 1, counts.sum()) ** (1 / slope)
    return RepairHistories.from_columns(
        np.full(doors, start), np.full(doors, 10_000.0), np.repeat(np.arange(doors), counts),
        np.clip(at, start + 1e-6, None),
    )  # fmt: skip


@pytest.mark.parametrize("failures", [20, 40, 300])
def test_a_power_law_exceeds_the_limit_about_once_in_twenty(failures: int) -> None:
    """MIL-HDBK-189, critical values: 0.21 to 0.22 at 5 % from 20 failures (from memory)."""
    over = 0
    for seed in range(400):
        histories = made(seed, 10, 1.7, failures / 10)
        fit = check_power_law(histories)
        over += fit.distance is not None and fit.distance > LARGEST_DISTANCE
    assert 0.02 <= over / 400 <= 0.09


def test_failures_that_follow_another_law_are_said() -> None:
    rng = np.random.default_rng(5)
    early, late = rng.uniform(1, 500, 150), rng.uniform(9_500, 10_000, 150)
    histories = RepairHistories.from_columns(
        np.zeros(30), np.full(30, 10_000.0), rng.integers(0, 30, 300), np.append(early, late)
    )
    said = power_law_evidence(check_power_law(histories))
    assert "a power law is not what these failures follow" in said[0].note
    assert "30 doors" in said[0].note


def test_doors_of_different_slopes_are_told_apart() -> None:
    same = check_power_law(made(1, 20, 1.5, 12))
    mild, steep = made(2, 10, 0.5, 14), made(3, 10, 4.0, 14)
    mixed = RepairHistories.from_columns(
        np.zeros(20),
        np.full(20, 10_000.0),
        np.append(mild.event_door, steep.event_door + 10),
        np.append(mild.event_cycles, steep.event_cycles),
    )
    assert same.slopes_p is not None
    assert same.slopes_p > 0.05
    assert "some grow worse faster" in power_law_evidence(check_power_law(mixed))[1].note


def test_one_door_says_what_it_has_come_to() -> None:
    """NIST/SEMATECH e-Handbook 8.4.5.2: ten failures, slope 0.48, limits for 80 %."""
    at = [5.0, 40.0, 43.0, 175.0, 389.0, 712.0, 747.0, 795.0, 1299.0, 1478.0]
    door = RepairHistories.from_columns([0.0], [1500.0], [0] * 10, at)
    said = {line.label: line for line in power_law_evidence(check_power_law(door))}
    assert said["Gaps longer than one before"].value == "33"
    assert "of 45 pairs" in said["Gaps longer than one before"].note
    assert "cycles" in said["Cycles between failures now"].value


def test_records_that_begin_later_allow_no_check() -> None:
    fit = check_power_law(made(4, 10, 1.5, 8, start=2_000.0))
    assert fit.doors == 0
    assert power_law_evidence(fit) == []


def test_a_failure_at_the_first_cycle_allows_no_check() -> None:
    histories = RepairHistories.from_columns([0.0, 0.0], [100.0, 100.0], [0, 1], [0.0, 50.0])
    assert power_law_evidence(check_power_law(histories)) == []
