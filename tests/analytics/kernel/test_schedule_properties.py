"""Whatever is asked for, no plan breaks a rule: hours, trucks, trained people, pins, intervals."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from analytics.kernel.schedule import preview, schedule
from analytics.kernel.schedule_greedy import Start, search
from analytics.kernel.schedule_milp import solve_exactly
from analytics.kernel.schedule_problem import (
    Jobs,
    Nights,
    ScheduleProblem,
    fits,
    plan_cost,
)
from tests.analytics.kernel.naive_schedule import (
    broken_rules,
    cost_of,
    least_cost_by_trying,
)
from tests.analytics.kernel.schedule_samples import nested

usual = settings(
    max_examples=60, deadline=None, derandomize=True, suppress_health_check=[HealthCheck.too_slow]
)
MINUTES = [0.0, 5.0, 12.5, 42.0, 90.0, 120.0, 150.0]


@st.composite
def problems(draw, *, most_jobs=14, most_nights=10, free=False) -> ScheduleProblem:
    """Any small depot: crowded or empty nights, trucks away, springs, pins, urgent jobs."""
    count = draw(st.integers(1, most_jobs))
    nights = draw(st.integers(1, most_nights))
    trucks = draw(st.integers(1, max(1, count // 2)))

    def each(values, length=count):
        return draw(st.lists(values, min_size=length, max_size=length))

    truck = np.array(each(st.integers(0, trucks - 1)))
    minutes = np.array(each(st.sampled_from(MINUTES)))
    share = st.sampled_from([False, False, False, True])
    pinned = np.array(each(st.integers(-1, nights - 1)))
    first, pins = np.array(each(share)), np.array(each(share))
    if free:
        first, pins = np.zeros(count, bool), np.zeros(count, bool)
    stay = st.sampled_from([30.0, 64.0, 172.0, 660.0])
    at_home = st.lists(stay, min_size=nights, max_size=nights)
    hours = st.sampled_from([0.0, 30.0, 64.0, 142.0, 172.0, 300.0, 480.0])
    return ScheduleProblem(
        Jobs(
            truck=truck,
            minutes=minutes,
            due_night=np.array(each(st.integers(-20, nights + 20)), float),
            earliest_night=np.array(each(st.integers(0, nights + 2))),
            weight=np.array(each(st.sampled_from([0.5, 1.0, 2.0, 3.0]))),
            goes_first=first,
            needs_trained=np.array(each(share)),
            pinned_night=np.where(pins, pinned, -1),
        ),
        Nights(
            np.array(each(hours, nights)),
            np.array(each(st.sampled_from([0.0, 100.0, 150.0, 400.0]), nights)),
            np.array(each(st.lists(st.booleans(), min_size=nights, max_size=nights), trucks)),
            np.array(each(at_home, trucks)) if draw(st.booleans()) else None,
        ),
        nested(truck, minutes),
        np.array(each(st.integers(-1, nights - 1))) if draw(st.booleans()) else None,
    )


def all_of(problem: ScheduleProblem) -> Start:
    count = len(problem.jobs)
    return Start(np.full(count, -1), np.ones(count, bool))


@usual
@given(problems())
def test_a_searched_plan_keeps_every_rule(problem):
    assert broken_rules(problem, preview(problem, rounds=40)) == []


@usual
@given(problems())
def test_a_solved_plan_keeps_every_rule(problem):
    plan = schedule(problem, seconds=1.0, rounds=0)
    assert broken_rules(problem, plan) == []
    assert plan.bound <= plan.cost


@usual
@given(problems(free=True))
def test_each_solver_by_itself_keeps_within_the_hours(problem):
    start = all_of(problem)
    solved = solve_exactly(problem, start, seconds=1.0)
    plans = [search(problem, start, rounds=rounds, seed=1) for rounds in (0, 20)]
    for own in [*plans, *([] if solved.own_night is None else [solved.own_night])]:
        assert fits(problem, own)
        cost = plan_cost(problem, own, start.among)
        assert cost == pytest.approx(cost_of(problem, tuple(own.tolist())))
        assert cost >= solved.bound - 1e-6


@usual
@given(problems(most_jobs=4, most_nights=4, free=True))
def test_the_solver_finds_the_least_cost_of_all_plans(problem):
    least = least_cost_by_trying(problem)
    plan = schedule(problem, seconds=5.0, gap=0.0)
    assert plan.cost == pytest.approx(least, abs=1e-6)
    assert plan.bound <= least + 1e-6


@usual
@given(problems())
def test_the_better_of_the_two_is_kept(problem):
    plan = schedule(problem, seconds=1.0, rounds=30)
    searched = preview(problem, rounds=30)
    if not problem.jobs.goes_first.any():
        assert plan.cost <= searched.cost + 1e-6


@usual
@given(problems())
def test_the_search_gives_the_same_plan_again(problem):
    once, again = preview(problem, rounds=25), preview(problem, rounds=25)
    assert once.night.tolist() == again.night.tolist()
    assert once.is_along.tolist() == again.is_along.tolist()


@usual
@given(problems())
def test_jobs_that_go_first_are_no_worse_off_for_the_others(problem):
    """With the other jobs taken away, those that go first stand no better."""
    jobs = problem.jobs
    kept = np.flatnonzero(jobs.goes_first | (jobs.pinned_night >= 0))
    if len(kept) == 0:
        return
    alone = ScheduleProblem(
        Jobs(**{name: values[kept] for name, values in vars(jobs).items()}),
        problem.nights,
        nested(jobs.truck[kept], jobs.minutes[kept]),
    )
    among_all, by_themselves = preview(problem, rounds=20), preview(alone, rounds=20)
    for place, job in enumerate(kept.tolist()):
        if by_themselves.night[place] >= 0:
            assert 0 <= among_all.night[job] <= by_themselves.night[place]
