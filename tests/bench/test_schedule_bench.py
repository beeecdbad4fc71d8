"""What a plan costs in time and how near it comes to the proven bound; `pytest -s` shows it."""

import sys
import time

import pytest

from analytics.kernel.schedule import Schedule, preview, schedule_depots
from tests.analytics.kernel.naive_schedule import broken_rules
from tests.analytics.kernel.schedule_samples import make_problem
from tests.bench.machine import slowness

DEPOTS, JOBS, NIGHTS = 20, 50, 30
SECONDS = 50.0


def depots(load: float) -> list:
    """1,000 jobs at 20 depots; each with a visit of its own, they take that share of all hours."""
    return [
        make_problem(jobs=JOBS, nights=NIGHTS, load=load, seed=seed, urgent_share=0.03)
        for seed in range(DEPOTS)
    ]


def tell(line: str) -> None:
    """Show a figure with `pytest -s`."""
    sys.stdout.write(f"{line}\n")


def cost_of(plans: list[Schedule] | tuple[Schedule, ...]) -> float:
    return sum(plan.cost for plan in plans)


@pytest.mark.parametrize("load", [0.6, 0.85])
def test_a_thousand_jobs_come_within_five_percent_of_the_bound_in_a_minute(load):
    problems = depots(load)
    searched = [preview(problem) for problem in problems]
    started = time.perf_counter()
    plans = schedule_depots(problems, seconds=SECONDS)
    seconds = time.perf_counter() - started
    cost, bound = cost_of(plans), sum(plan.bound for plan in plans)
    tell(
        f"load {load:.0%}: {cost:,.0f} in {seconds:.0f} s, bound {bound:,.0f}, "
        f"{cost / bound - 1:.1%} above it; search alone {cost_of(searched) / bound - 1:.1%}"
    )
    for problem, plan in zip(problems, plans, strict=True):
        assert broken_rules(problem, plan) == []
    assert cost <= 1.05 * bound
    assert seconds <= 60
    assert cost <= cost_of(searched)


def test_a_preview_of_a_depot_takes_less_than_a_second():
    for jobs in (50, 150):
        problem = make_problem(jobs=jobs, nights=NIGHTS, load=0.85, seed=3, urgent_share=0.03)
        taken = []
        for _ in range(3):
            started = time.perf_counter()
            preview(problem)
            taken.append(time.perf_counter() - started)
        tell(f"preview of {jobs} jobs: {min(taken):.2f} s")
        assert min(taken) < slowness()
