"""The catalogue of preventive tasks: every task with what it costs and what it found."""

from __future__ import annotations

from dataclasses import dataclass

from django.db.models import Count
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from analytics.models import PRESSING, Computation, DueTask
from analytics.reports.task_evidence import TaskEvidence, evidence_by_task
from fleetdoors.models import MaintenanceTask
from fleetdoors.templatetags.units import cycles, number, per_cent


@dataclass(frozen=True)
class TaskRow:
    """A task as the list shows it."""

    code: str
    name: str
    url: str
    every: str
    window: str
    minutes: str
    who: str
    contains: str
    kit: str
    due: str
    found: str
    is_on_due_lists: bool


def task_rows(run: Computation | None, depot_ids: tuple[int, ...] | None) -> list[TaskRow]:
    """Every task by code; a constant number of queries."""
    tasks = MaintenanceTask.objects.order_by("code").prefetch_related("contains", "kit")
    pressing = _pressing(run, depot_ids)
    evidence = evidence_by_task()
    return [_row(task, pressing.get(task.pk, 0), evidence.get(task.code)) for task in tasks]


def _pressing(run: Computation | None, depot_ids: tuple[int, ...] | None) -> dict[int, int]:
    """Late, due, or asked for, by task; runs one query."""
    rows = DueTask.objects.filter(generation=run, state__in=PRESSING).at_depots(depot_ids)
    counted = rows.order_by().values("task").annotate(due=Count("pk"))
    return dict(counted.values_list("task", "due"))


def _row(task: MaintenanceTask, due: int, evidence: TaskEvidence | None) -> TaskRow:
    kit = len(task.kit.all())
    return TaskRow(
        code=task.code,
        name=str(task),
        url=reverse("task-detail", args=[task.code]),
        every=every_words(task.interval_cycles, task.interval_days, task.spring_class_share),
        window=_("−%(before)s to +%(after)s %%")
        % {
            "before": number(task.window_before_percent),
            "after": number(task.window_after_percent),
        },
        minutes=number(task.minutes),
        who=task.get_performer_display(),
        contains=", ".join(sorted(each.code for each in task.contains.all())),
        kit=ngettext("%(n)s part", "%(n)s parts", kit) % {"n": number(kit)} if kit else "",
        due=number(due),
        found=evidence.short if evidence else "",
        is_on_due_lists=task.is_on_due_lists,
    )


def every_words(
    interval_cycles: int | None, interval_days: int | None, spring_class_share: float | None
) -> str:
    """An interval in words."""
    said = []
    if spring_class_share is not None:
        said.append(_("%(share)s of the spring class") % {"share": per_cent(spring_class_share)})
    if interval_cycles is not None:
        said.append(cycles(interval_cycles))
    if interval_days is not None:
        said.append(
            ngettext("%(n)s day", "%(n)s days", interval_days) % {"n": number(interval_days)}
        )
    return _(" or ").join(said) or _("no interval")
