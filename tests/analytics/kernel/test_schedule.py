"""Plans of a depot: grouping, nested jobs, pulling forward, order, reasons, and plain refusals."""

from __future__ import annotations

import os

import numpy as np
import pytest

from analytics.kernel.quiet_stdout import quiet_stdout
from analytics.kernel.schedule import (
    Why,
    preview,
    schedule,
    schedule_depots,
    visits_of,
)
from analytics.kernel.schedule_problem import Jobs, Nights, ScheduleProblem
from tests.analytics.kernel.naive_schedule import broken_rules
from tests.analytics.kernel.schedule_samples import make_problem

NOT_PINNED = -1
BOTH = pytest.mark.parametrize(
    "plan_of", [preview, lambda problem: schedule(problem, seconds=5.0)], ids=["search", "solver"]
)


def depot(*jobs, nights=10, hours=480.0, trained=0.0, away=(), covers=()):
    """Jobs as (truck, minutes, due night) with more facts by name; trucks home but where away."""
    facts = [{"truck": j[0], "minutes": j[1], "due": j[2], **(j[3] if j[3:] else {})} for j in jobs]

    def column(name, default, kind=float):
        return np.array([fact.get(name, default) for fact in facts], dtype=kind)

    truck = column("truck", 0, np.int64)
    home = np.ones((truck.max() + 1, nights), bool)
    for which, night in away:
        home[which, night] = False
    return ScheduleProblem(
        Jobs(
            truck=truck,
            minutes=column("minutes", 0),
            due_night=column("due", 0),
            earliest_night=column("earliest", 0, np.int64),
            weight=column("weight", 1.0),
            goes_first=column("first", False, bool),
            needs_trained=column("trained", False, bool),
            pinned_night=column("pinned", NOT_PINNED, np.int64),
        ),
        Nights(np.full(nights, hours), np.full(nights, trained), home),
        np.array(covers, np.int64).reshape(-1, 2),
    )


@BOTH
def test_jobs_of_a_truck_share_a_visit(plan_of):
    problem = depot((0, 15, 3), (0, 10, 5), (1, 10, 5))
    plan = plan_of(problem)
    assert plan.night[0] == plan.night[1]
    assert 2 <= plan.night[0] <= 3
    visits = visits_of(problem, plan)
    both = visits.truck == 0
    assert visits.minutes[both].tolist() == [15 + 10 + 15 + 7]


@BOTH
def test_a_larger_job_does_the_smaller_ones_along(plan_of):
    problem = depot((0, 120, 6), (0, 15, 5), (0, 10, 6), covers=[(0, 1), (0, 2)])
    plan = plan_of(problem)
    assert len(set(plan.night.tolist())) == 1
    assert plan.is_along.tolist() == [False, True, True]
    assert plan.minutes.sum() == 120 + 22


@BOTH
def test_a_small_job_is_not_kept_waiting_for_a_larger_one_for_long(plan_of):
    problem = depot(
        (0, 120, 29, {"earliest": 25}), (0, 15, 2), nights=30, covers=[(0, 1)]
    )  # fmt: skip
    plan = plan_of(problem)
    assert plan.night[1] <= 2
    assert 25 <= plan.night[0] <= 29


@BOTH
def test_a_task_is_never_pulled_to_less_than_half_of_its_interval(plan_of):
    problem = depot((0, 15, 2), (0, 10, 8, {"earliest": 4}))
    alone, later = plan_of(problem).night.tolist()
    assert alone <= 2
    assert 5 <= later <= 8
    problem = depot((0, 15, 2), (0, 10, 8, {"earliest": 1}))
    assert plan_of(problem).night.tolist() == [2, 2]


@BOTH
def test_what_is_due_later_is_done_only_when_the_truck_is_in_anyway(plan_of):
    problem = depot((0, 15, 6), (0, 10, 11), (1, 10, 11))
    plan = plan_of(problem)
    assert plan.night[0] == plan.night[1]
    assert 3 <= plan.night[0] <= 6
    assert plan.night[2] == -1
    assert plan.why.tolist() == [Why.PLACED, Why.PLACED, Why.CAN_WAIT]


def test_what_is_due_later_does_not_make_a_visit_of_its_own():
    problem = depot((0, 15, 10), (0, 10, 10))
    plan = schedule(problem, seconds=5.0, gap=0.0)
    assert plan.night.tolist() == [-1, -1]
    # Two visits that might have been saved; no plan that keeps the rule costs less.
    assert (plan.cost, plan.bound) == (12.0, pytest.approx(12.0))


@BOTH
def test_safety_and_stopped_trucks_come_before_any_number_of_others(plan_of):
    ordinary = [(truck, 38, -3, {"weight": 3.0}) for truck in range(1, 9)]
    problem = depot((0, 120, 0, {"first": True, "weight": 0.1}), *ordinary, hours=142.0)
    plan = plan_of(problem)
    assert plan.night[0] == 0
    assert broken_rules(problem, plan) == []


@BOTH
def test_a_pinned_job_stays_and_others_join_it(plan_of):
    problem = depot((0, 15, 1, {"pinned": 7, "earliest": 9}), (0, 10, 8))
    assert plan_of(problem).night.tolist() == [7, 7]


@BOTH
def test_a_pinned_job_without_room_is_left_out_and_not_moved(plan_of):
    problem = depot(
        (0, 100, 1, {"pinned": 3, "weight": 2.0}), (1, 100, 1, {"pinned": 3}), hours=142.0
    )
    plan = plan_of(problem)
    assert plan.night.tolist() == [3, -1]
    assert plan.why[1] == Why.PIN_HAS_NO_ROOM


@BOTH
def test_spring_work_waits_for_trained_people(plan_of):
    problem = depot((0, 150, 0, {"trained": True}), (1, 150, 0))
    plan = plan_of(problem)
    assert plan.night.tolist() == [-1, 0]
    assert plan.why[0] == Why.NOBODY_TRAINED
    trained = Nights(problem.nights.minutes, np.arange(10) * 50.0, problem.nights.home)
    assert plan_of(ScheduleProblem(problem.jobs, trained, problem.covers)).night[0] == 3


@BOTH
def test_trained_people_do_no_more_than_their_hours(plan_of):
    spring = [(truck, 90, 0, {"trained": True}) for truck in range(3)]
    problem = depot(*spring, trained=100.0)
    plan = plan_of(problem)
    assert sorted(plan.night.tolist()) == [0, 1, 2]
    assert broken_rules(problem, plan) == []


@BOTH
def test_reasons_for_what_is_left_out(plan_of):
    gone = [(0, night) for night in range(10)]
    problem = depot((0, 15, 2), (1, 200, 2), (2, 100, 2), hours=142.0, away=gone)
    plan = plan_of(problem)
    assert plan.why.tolist() == [Why.TRUCK_AWAY, Why.TOO_LONG, Why.PLACED]
    crowded = depot(*((truck, 100, 0) for truck in range(12)), hours=142.0)
    plan = plan_of(crowded)
    assert (plan.why == Why.NO_ROOM).sum() == 2
    assert (plan.why == Why.PLACED).sum() == 10


@BOTH
def test_a_truck_that_is_away_is_awaited(plan_of):
    problem = depot((0, 15, 2), away=[(0, 2), (0, 1)])
    # A night early costs nothing, a night late does.
    assert plan_of(problem).night[0] == 0
    problem = depot((0, 15, 0), away=[(0, 0), (0, 1)])
    plan = plan_of(problem)
    assert plan.night[0] == 2
    assert visits_of(problem, plan).late_nights.tolist() == [2]


@BOTH
def test_a_visit_is_no_longer_than_its_truck_is_home(plan_of):
    problem = depot((0, 60, 0), (0, 60, 0), nights=3)
    home = np.array([[100.0, 100.0, 660.0]])
    nights = Nights(problem.nights.minutes, problem.nights.trained_minutes, home > 0, home)
    plan = plan_of(ScheduleProblem(problem.jobs, nights, problem.covers))
    # Two short nights cost a visit more than they save; together the jobs take 142 minutes.
    assert sorted(plan.night.tolist()) == [0, 1]
    assert plan.minutes.tolist() == [82, 82, 0]


@BOTH
def test_a_night_that_people_were_told_is_kept_unless_another_is_clearly_better(plan_of):
    problem = depot((0, 15, 6))
    told = ScheduleProblem(problem.jobs, problem.nights, problem.covers, np.array([4]))
    assert plan_of(problem).night.tolist() == [6]
    assert plan_of(told).night.tolist() == [4]
    late = ScheduleProblem(problem.jobs, problem.nights, problem.covers, np.array([8]))
    assert plan_of(late).night.tolist() == [6]


@BOTH
def test_a_pinned_job_that_another_one_of_its_night_does_takes_no_time_of_its_own(plan_of):
    problem = depot(
        (0, 15, 0, {"pinned": 2}), (0, 120, 0, {"pinned": 2}), hours=142.0, covers=[(1, 0)]
    )
    plan = plan_of(problem)
    assert plan.night.tolist() == [2, 2]
    assert plan.is_along.tolist() == [True, False]


def test_lateness_counts_from_the_day_it_was_due():
    problem = depot((0, 15, -6))
    plan = preview(problem)
    assert visits_of(problem, plan).late_nights.tolist() == [6]
    # What is late already is no fault of the plan.
    assert plan.cost == pytest.approx(6 + 0.15)


@BOTH
def test_nothing_to_plan(plan_of):
    problem = depot((0, 15, 60))
    plan = plan_of(problem)
    assert plan.night.tolist() == [-1]
    assert len(visits_of(problem, plan).truck) == 0


def test_depots_are_planned_like_each_by_itself_and_progress_is_told():
    problems = [make_problem(jobs=12, nights=10, load=0.7, seed=seed) for seed in range(4)]
    told = []
    plans = schedule_depots(problems, seconds=20.0, done=told.append)
    assert sorted(told) == [1, 2, 3, 4]
    for problem, plan in zip(problems, plans, strict=True):
        assert broken_rules(problem, plan) == []
        assert plan.cost <= plan.bound * 1.0101


def test_no_depots_no_plans():
    assert schedule_depots([], seconds=1.0) == ()


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"minutes": np.array([-1.0])}, "minutes of a job must not be negative, got -1"),
        ({"due_night": np.array([np.nan])}, "due_night must be known"),
        ({"weight": np.array([0.0])}, "weight must be above 0, got 0"),
        ({"truck": np.array([1])}, r"truck must be a row of home \(0 to 0\)"),
        ({"pinned_night": np.array([10])}, "pinned_night must be below 10, got 10"),
        ({"weight": np.ones(2)}, r"weight must have shape \(1,\), got \(2,\)"),
    ],
)
def test_jobs_that_cannot_be(change, message):
    problem = depot((0, 15, 2))
    with pytest.raises(ValueError, match=message):
        ScheduleProblem(Jobs(**(vars(problem.jobs) | change)), problem.nights, problem.covers)


@pytest.mark.parametrize(
    ("nights", "message"),
    [
        (Nights(np.zeros(0), np.zeros(0), np.ones((1, 0), bool)), "at least one night, got 0"),
        (Nights(np.ones(3), np.ones(2), np.ones((1, 3), bool)), "trained_minutes must have shape"),
        (Nights(np.ones(3), np.ones(3), np.ones((1, 2), bool)), "home must have 3 columns"),
        (Nights(np.ones(3), np.ones(3), np.ones((1, 3), bool), np.ones((2, 3))), "home_minutes"),
        (Nights(np.ones(3), np.ones(3), np.ones((1, 3), bool), -np.ones((1, 3))), "at home"),
        (Nights(-np.ones(3), np.ones(3), np.ones((1, 3), bool)), "of a night must not be negative"),
    ],
)
def test_nights_that_cannot_be(nights, message):
    with pytest.raises(ValueError, match=message):
        ScheduleProblem(depot((0, 15, 2)).jobs, nights, np.zeros((0, 2), np.int64))


@pytest.mark.parametrize(
    ("covers", "message"),
    [
        ([(0, 1, 2)], r"covers must have shape \(p, 2\), got \(1, 3\)"),
        ([(0, 9)], "covers must name jobs 0 to 3"),
        ([(0, 3)], "a job covers only jobs on its own truck"),
        ([(0, 1), (1, 0)], "no circle, see job 0"),
        ([(0, 1), (1, 2)], "must hold what follows from it"),
    ],
)
def test_nesting_that_cannot_be(covers, message):
    problem = depot((0, 15, 2), (0, 15, 2), (0, 15, 2), (1, 15, 2))
    with pytest.raises(ValueError, match=message):
        ScheduleProblem(problem.jobs, problem.nights, np.array(covers, np.int64))


def test_no_time_is_refused():
    with pytest.raises(ValueError, match="seconds must be above 0, got 0"):
        schedule(depot((0, 15, 2)), seconds=0)


def test_what_compiled_code_prints_goes_nowhere(capfd):
    with quiet_stdout(), quiet_stdout():
        os.write(1, b"noise")
    os.write(1, b"ours")
    assert capfd.readouterr().out == "ours"


def test_output_comes_back_after_an_error(capfd):
    with pytest.raises(KeyError), quiet_stdout():
        raise KeyError
    os.write(1, b"ours")
    assert capfd.readouterr().out == "ours"
