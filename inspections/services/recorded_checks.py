"""Which preventive tasks an inspection has done: those whose checks it holds, each of them."""

from __future__ import annotations

from inspections.models import Inspection, JobKind, JobOutcome
from inspections.services.tasks_done import WorkDone, record_task_done

# What has to be on record before the task counts as done; after the default tasks, which are
# common practice, no source. A task that wants something done to the door, such as re-coiling, is
# not here: a look does not do it.
CHECKS_OF_TASK: dict[str, frozenset[str]] = {
    "REV": frozenset({"reverse_function", "ajar_lamp"}),
    "REL": frozenset({"manual_release"}),
    "LFT": frozenset({"spring", "lift_cables"}),
    "SEN": frozenset({"sensor_offset"}),
    "BAL": frozenset({"balance_quarter", "balance_half", "balance_three_quarters", "drag"}),
    "ELE": frozenset(
        {
            "battery_rest",
            "battery_running",
            "converter_no_load",
            "converter_running",
            "motor_end",
            "travel_open_seconds",
            "travel_close_seconds",
        }
    ),
}


def mark_jobs_done(inspection: Inspection, recorded: frozenset[str]) -> None:
    """Mark the jobs of the visit as done whose checks were all recorded; queries a few times.

    A follow-up is left alone: it asks for something to be put right, not for another look.
    """
    if inspection.visit is None:
        return
    covered = [code for code, checks in CHECKS_OF_TASK.items() if checks <= recorded]
    jobs = inspection.visit.jobs.filter(kind=JobKind.TASK, task__code__in=covered, outcome="")
    for job in jobs.select_related("task").order_by("pk"):
        if job.task is None:
            continue
        job.task_done = record_task_done(
            door=inspection.door,
            work=WorkDone(
                task=job.task, done_at=inspection.begun_at, done_by=inspection.inspector[:100]
            ),
            entered_at=inspection.entered_at,
            entered_by=inspection.entered_by,
        )
        job.outcome, job.done_at = JobOutcome.DONE, inspection.begun_at
        job.save(update_fields=("outcome", "done_at", "task_done"))
