"""The rules of a plan and its cost once more, job by job in plain loops."""

from __future__ import annotations

from itertools import product

import numpy as np

from analytics.kernel.schedule import Schedule, Why, visits_of
from analytics.kernel.schedule_problem import ScheduleProblem

TOLERANCE = 1e-4
VISIT = 22.0  # 15 minutes to get at the door and 7 for the final check


def broken_rules(problem: ScheduleProblem, plan: Schedule) -> list[str]:
    """Every rule that the plan breaks, in words."""
    return [
        *hours_exceeded(problem, plan),
        *truck_booked_twice(problem, plan),
        *longer_than_home(problem, plan),
        *jobs_out_of_place(problem, plan),
        *jobs_along_alone(problem, plan),
        *left_out_wrongly(problem, plan),
    ]


def own_jobs(problem: ScheduleProblem, plan: Schedule, night: int) -> list[int]:
    return [
        job
        for job in range(len(problem.jobs))
        if plan.night[job] == night and not plan.is_along[job]
    ]


def hours_exceeded(problem: ScheduleProblem, plan: Schedule) -> list[str]:
    jobs, nights, broken = problem.jobs, problem.nights, []
    for night in range(len(nights)):
        own = own_jobs(problem, plan, night)
        trucks = {int(jobs.truck[job]) for job in own}
        minutes = sum(float(jobs.minutes[job]) for job in own) + VISIT * len(trucks)
        spring = sum(float(jobs.minutes[job]) for job in own if jobs.needs_trained[job])
        if minutes > nights.minutes[night] + TOLERANCE:
            broken.append(f"night {night}: {minutes} of {nights.minutes[night]} minutes")
        if spring > nights.trained_minutes[night] + TOLERANCE:
            broken.append(f"night {night}: {spring} of {nights.trained_minutes[night]} trained")
        if spring == 0 and nights.trained_minutes[night] == 0:
            broken += [f"job {j} without trained people" for j in own if jobs.needs_trained[j]]
        if abs(plan.minutes[night] - minutes) > TOLERANCE:
            broken.append(f"night {night}: said to take {plan.minutes[night]}, takes {minutes}")
    return broken


def truck_booked_twice(problem: ScheduleProblem, plan: Schedule) -> list[str]:
    visits = visits_of(problem, plan)
    booked = list(zip(visits.truck.tolist(), visits.night.tolist(), strict=True))
    return [f"visit {each} twice" for each in set(booked) if booked.count(each) > 1]


def longer_than_home(problem: ScheduleProblem, plan: Schedule) -> list[str]:
    home = problem.nights.home_minutes
    if home is None:
        return []
    visits = visits_of(problem, plan)
    booked = zip(visits.truck, visits.night, visits.minutes, strict=True)
    return [
        f"truck {truck} in night {night}: {minutes} of {home[truck, night]} minutes at home"
        for truck, night, minutes in booked
        if minutes > home[truck, night] + TOLERANCE
    ]


def jobs_out_of_place(problem: ScheduleProblem, plan: Schedule) -> list[str]:
    jobs, broken = problem.jobs, []
    for job in range(len(jobs)):
        night, pin = int(plan.night[job]), int(jobs.pinned_night[job])
        if night < 0 or plan.is_along[job]:
            continue
        if not problem.nights.home[jobs.truck[job], night]:
            broken.append(f"job {job}: truck is away in night {night}")
        if pin >= 0 and night != pin:
            broken.append(f"job {job}: pinned to {pin}, placed in {night}")
        if pin < 0 and night < max(jobs.earliest_night[job], np.floor(jobs.due_night[job]) - 14):
            broken.append(f"job {job}: too early in night {night}")
    return broken


def jobs_along_alone(problem: ScheduleProblem, plan: Schedule) -> list[str]:
    """Jobs said to be done along with one that is not done then, and optional visits."""
    jobs, broken = problem.jobs, []
    pairs = {tuple(pair) for pair in problem.covers.tolist()}
    for job in range(len(jobs)):
        night = int(plan.night[job])
        own = own_jobs(problem, plan, night) if night >= 0 else []
        if plan.is_along[job] and not any((other, job) in pairs for other in own):
            broken.append(f"job {job}: along with none in night {night}")
        if night >= 0 and is_optional(problem, job) and not plan.is_along[job]:
            same = (jobs.truck == jobs.truck[job]) & (plan.night == night)
            if all(is_optional(problem, each) for each in np.flatnonzero(same).tolist()):
                broken.append(f"job {job}: optional, and nothing is due in night {night}")
    return broken


def is_optional(problem: ScheduleProblem, job: int) -> bool:
    jobs = problem.jobs
    beyond = np.floor(jobs.due_night[job]) >= len(problem.nights)
    return bool(beyond and jobs.pinned_night[job] < 0 and not jobs.goes_first[job])


def left_out_wrongly(problem: ScheduleProblem, plan: Schedule) -> list[str]:
    return [
        f"job {job}: night {plan.night[job]}, why {plan.why[job]}"
        for job in range(len(problem.jobs))
        if (plan.night[job] < 0) != (plan.why[job] != Why.PLACED)
    ]


def cost_of(problem: ScheduleProblem, own: tuple[int, ...]) -> float:
    """Cost of work in these nights (-1 none), inf where a rule forbids it."""
    jobs, nights = problem.jobs, problem.nights
    done, along = list(own), [False] * len(own)
    for outer, inner in problem.covers.tolist():
        if own[inner] < 0 and own[outer] >= 0:
            done[inner] = min(own[outer], done[inner]) if done[inner] >= 0 else own[outer]
            along[inner] = True
    used, spring = np.zeros(len(nights)), np.zeros(len(nights))
    stay = np.zeros(nights.home.shape)
    visits = {(int(jobs.truck[j]), own[j]) for j in range(len(own)) if own[j] >= 0}
    cost = 6.0 * len(visits)
    for truck, night in visits:
        used[night] += VISIT
        stay[truck, night] += VISIT
    for job, night in enumerate(done):
        due = int(np.floor(jobs.due_night[job]))
        if night < 0:
            cost += 6.0 if is_optional(problem, job) else 150.0 * jobs.weight[job]
            continue
        cost += 4.0 * jobs.weight[job] * max(night - max(due, 0), 0)
        if along[job]:
            continue
        early = max(due - night, 0)
        cost += 0.05 * min(early, 3) + max(early - 3, 0) + 0.01 * jobs.minutes[job]
        used[night] += jobs.minutes[job]
        stay[jobs.truck[job], night] += jobs.minutes[job]
        if problem.planned_night is not None and problem.planned_night[job] >= 0:
            cost += float(problem.planned_night[job] != night)
        spring[night] += jobs.minutes[job] * jobs.needs_trained[job]
        if night < max(jobs.earliest_night[job], due - 14):
            return np.inf
        if not nights.home[jobs.truck[job], night]:
            return np.inf
        if jobs.needs_trained[job] and nights.trained_minutes[night] == 0:
            return np.inf
        if is_optional(problem, job) and all(
            is_optional(problem, k)
            for k in range(len(own))
            if done[k] == night and jobs.truck[k] == jobs.truck[job]
        ):
            return np.inf
    if nights.home_minutes is not None and (stay > nights.home_minutes + TOLERANCE).any():
        return np.inf
    over = (used > nights.minutes + TOLERANCE) | (spring > nights.trained_minutes + TOLERANCE)
    return np.inf if over.any() else cost


def least_cost_by_trying(problem: ScheduleProblem) -> float:
    """The least cost of all plans there are; nothing pinned, nothing first."""
    nights = range(-1, len(problem.nights))
    return min(cost_of(problem, own) for own in product(nights, repeat=len(problem.jobs)))
