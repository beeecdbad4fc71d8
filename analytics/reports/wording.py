"""When a task is due, in words for people."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from analytics.models import DoorFigures, DueState, DueTask, GovernedBy
from analytics.reports.basis import Basis
from analytics.reports.standing import standing
from fleetdoors.templatetags.units import day as full_day
from fleetdoors.templatetags.units import number, short_day, used_of

_NEAR_DAYS = 180
_FIRST_YEAR = 1970


@dataclass(frozen=True)
class TaskState:
    """A task's slat door and what stands beside it."""

    share: float | None
    state: DueState
    words: str
    detail: str


def task_state(task: DueTask, figures: DoorFigures | None, basis: Basis) -> TaskState:
    """How a task stands, with the interval used up and the range of its date."""
    state = standing(task, basis)
    parts = (used_words(task, figures, basis), range_words(task, basis), age_words(figures))
    return TaskState(
        share=sign_share(task, state),
        state=state,
        words=state_words(task, state, basis),
        detail=" · ".join(part for part in parts if part),
    )


def sign_share(task: DueTask, state: DueState) -> float | None:
    """What the sign is drawn from; a cycle count that ran backwards leaves the door open."""
    if state == DueState.UNKNOWN:
        return None
    return max(task.share_used or 0.0, 0.0)


def state_words(task: DueTask, state: DueState, basis: Basis) -> str:
    """The state in a few words, with the day."""
    if state == DueState.CONDITION:
        return _("A finding asks for it")
    if state == DueState.UNKNOWN:
        return _("No usable reading")
    if task.due_on is None:
        return _("Due, day not known") if state in (DueState.DUE, DueState.LATE) else _("Far off")
    return _dated(state, task.due_on, basis.today)


def _dated(state: DueState, due_on: date, today: date) -> str:
    day = near_day(due_on, today)
    if state == DueState.LATE:
        return _("Late, was due %(day)s") % {"day": day}
    if due_on == today:
        return _("Due today")
    if due_on < today:
        return _("Due since %(day)s") % {"day": day}
    return _("Due %(day)s") % {"day": day}


def task_words(task: DueTask, words: str) -> str:
    """The task's name with its state behind it."""
    return _("%(task)s: %(state)s") % {"task": task.task, "state": words[:1].lower() + words[1:]}


def near_day(day: date, today: date) -> str:
    """A day with its year only where that is in doubt; a day before all records is long ago."""
    if day.year < _FIRST_YEAR:
        return _("long ago")
    return short_day(day) if abs((day - today).days) < _NEAR_DAYS else full_day(day)


def used_words(task: DueTask, figures: DoorFigures | None, basis: Basis) -> str:
    """How much of the interval that governs is used up."""
    since = _(" since the record began") if task.never_done else ""
    if task.governed_by == GovernedBy.DAYS and task.last_done_on and task.interval_days:
        days = (basis.today - task.last_done_on).days
        total = round(task.interval_days)
        words = ngettext("%(used)s of %(total)s day", "%(used)s of %(total)s days", total)
        return words % {"used": number(days), "total": number(total)} + since
    used = cycles_used(task, figures)
    if used is None or task.interval_cycles is None:
        return ""
    return used_of(used, task.interval_cycles) + since


def cycles_used(task: DueTask, figures: DoorFigures | None) -> float | None:
    """Cycles since the task was last done, None where either end is unknown."""
    if figures is None or figures.cycles_now is None or task.last_done_cycles is None:
        return None
    return max(figures.cycles_now - task.last_done_cycles, 0.0)


def range_words(task: DueTask, basis: Basis) -> str:
    """Between which days the cycles are reached, where cycles decide and that lies ahead."""
    early, late = task.due_on_early, task.due_on_late
    if task.governed_by != GovernedBy.CYCLES or early is None or early <= basis.today:
        return ""
    if task.beyond_horizon or late is None:
        return _("not before %(day)s") % {"day": near_day(early, basis.today)}
    if early == late:
        return ""
    style = "j M" if early.year == late.year == basis.today.year else "j M Y"
    return _("%(first)s to %(last)s") % {
        "first": date_format(early, style),
        "last": date_format(late, style),
    }


def age_words(figures: DoorFigures | None) -> str:
    """What to know of the readings behind a date."""
    if figures is None:
        return ""
    return {
        "similar_doors": _("estimated from similar doors"),
        "stale": _("last reading is older than 120 days"),
    }.get(figures.basis, "")


def no_way_ahead() -> str:
    """What to say where the figures shown keep nothing of how doors are used."""
    return _(
        "The figures shown keep nothing of how the doors are used from week to week: they were "
        "made without it, or before an upgrade. Compute all figures anew, then look again."
    )
