"""Made depots to plan: trucks with due jobs of the usual lengths, nested tasks, nights at home."""

from __future__ import annotations

import numpy as np

from analytics.kernel.schedule_problem import (
    VISIT_MINUTES,
    Jobs,
    Nights,
    ScheduleProblem,
)

# Minutes of single tasks, of a quarterly bundle, of a half-yearly one, and of the full inspection.
MINUTES = np.array([5.0, 10.0, 15.0, 42.0, 90.0, 120.0])


def make_problem(
    *,
    jobs: int,
    nights: int,
    load: float,
    seed: int,
    trucks: int | None = None,
    spring_share: float = 0.02,
    urgent_share: float = 0.0,
    pinned_share: float = 0.0,
    trained_minutes: float = 180.0,
) -> ScheduleProblem:
    """A depot whose jobs, each visited alone, would take `load` of all its hours."""
    rng = np.random.default_rng(seed)
    trucks = trucks or max(1, int(jobs * 0.6))
    truck = rng.integers(0, trucks, jobs)
    minutes = rng.choice(MINUTES, jobs, p=[0.3, 0.2, 0.25, 0.17, 0.05, 0.03])
    spring = rng.random(jobs) < spring_share
    minutes[spring] = 150.0
    due = np.floor(rng.uniform(-4, nights + 4, jobs))
    interval = rng.choice([30.0, 90.0, 180.0, 365.0], jobs)
    earliest = np.maximum(np.ceil(due - 0.5 * interval), 0).astype(np.int64)
    pinned = np.where(rng.random(jobs) < pinned_share, rng.integers(0, nights, jobs), -1)
    home = rng.random((trucks, nights)) < 0.7
    # Somebody comes every third night, so that the longest job fits into one.
    worked = np.arange(nights) % 3 == seed % 3
    hours = float((minutes + VISIT_MINUTES).sum() / max(worked.sum(), 1) / load)
    return ScheduleProblem(
        Jobs(
            truck=truck,
            minutes=minutes,
            due_night=due,
            earliest_night=earliest,
            weight=rng.choice([1.0, 1.5, 2.0, 4.0], jobs, p=[0.6, 0.2, 0.15, 0.05]),
            goes_first=rng.random(jobs) < urgent_share,
            needs_trained=spring,
            pinned_night=pinned,
        ),
        Nights(hours * worked, trained_minutes * worked, home),
        nested(truck, minutes),
    )


def nested(truck: np.ndarray, minutes: np.ndarray) -> np.ndarray:
    """On one truck, the full inspection does every shorter job but spring work along."""
    full = np.flatnonzero(minutes == 120)
    pairs = [
        (outer, inner)
        for outer in full.tolist()
        for inner in np.flatnonzero((truck == truck[outer]) & (minutes < 120)).tolist()
    ]
    return np.array(pairs, dtype=np.int64).reshape(-1, 2)
