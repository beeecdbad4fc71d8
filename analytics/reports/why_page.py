"""Why a task is due when it is: every figure behind the date, and how they are put together."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from analytics.due_reason import due_reason
from analytics.models import DoorFigures, DueTask, GovernedBy
from analytics.reports.basis import Basis
from analytics.reports.due_page import figures_of
from analytics.reports.evidence import Evidence, computed_evidence, rate_evidence
from analytics.reports.followed_door import follow_door
from analytics.reports.readings_used import ReadingUsed, readings_used
from analytics.reports.wording import TaskState, task_state
from fleetdoors.models import Caution, Duty, MaintenanceTask, Setting, SeverityFactor
from fleetdoors.models.caution import SignalWord
from fleetdoors.models.door_unit import DoorUnit
from fleetdoors.templatetags.units import cycles, day_range, number, per_cent
from fleetdoors.templatetags.units import day as full_day

_CONDITIONS = dict([*Setting.choices, *Duty.choices])


@dataclass(frozen=True)
class WhyDue:
    """Everything that stands behind one due date."""

    state: TaskState
    sentence: str
    evidence: list[Evidence]
    formula: list[str]
    readings: list[ReadingUsed]
    is_stale: bool


def due_task_of(door: DoorUnit, task: MaintenanceTask, basis: Basis) -> DueTask | None:
    """The computed row of a task on a door; queries once."""
    rows = DueTask.objects.filter(generation=basis.run, door=door, task=task)
    return rows.with_links().first()


def why_due(row: DueTask, basis: Basis, *, now: datetime) -> WhyDue:
    """The figures behind a due date, in the order in which they are put together."""
    figures = figures_of([row.door_id], basis.run).get(row.door_id)
    followed = follow_door(row.door, basis.run, now=now)
    return WhyDue(
        state=task_state(row, figures, basis),
        sentence=_sentence(row),
        evidence=[
            _last_done(row),
            *_interval(row),
            *rate_evidence(figures),
            *_outcome(row),
            *computed_evidence(basis),
        ],
        formula=formula_lines(row, figures),
        readings=readings_used(followed, row.door),
        is_stale=figures is None or figures.door_revision != row.door.revision,
    )


def strongest_first(cautions: Iterable[Caution]) -> list[Caution]:
    """Cautions by the weight of their signal word."""
    weight = SignalWord.values.index
    return sorted(cautions, key=lambda each: (weight(each.signal_word), each.code))


def _sentence(row: DueTask) -> str:
    return due_reason(
        governed_by=row.governed_by,
        state=row.state,
        never_done=row.never_done,
        has_interval=row.interval_cycles is not None or row.interval_days is not None,
        factors=row.factors,
        beyond_horizon=row.beyond_horizon,
    )


def _last_done(row: DueTask) -> Evidence:
    value = cycles(row.last_done_cycles)
    if row.never_done:
        return Evidence(
            _("Never done on record"), value, _("counted from where the door's record begins")
        )
    return Evidence(_("Last done"), value, full_day(row.last_done_on))


def _interval(row: DueTask) -> list[Evidence]:
    """The interval as set, each factor on it, and what comes out."""
    found = [Evidence(_("Interval as set"), _lengths(row, row.factor), str(row.task))]
    for condition, factor in row.factors.items():
        name = str(_CONDITIONS.get(condition, condition)).capitalize()
        source = (
            _("read from the door's own record") if condition in Duty.values else str(row.depot)
        )
        found.append(Evidence(name, f"× {number(factor, 2)}", source))
    if row.factors:
        note = _("factors multiply, never below %(floor)s") % {
            "floor": number(SeverityFactor.FLOOR, 1)
        }
        found.append(Evidence(_("Interval here"), _lengths(row, 1.0), note))
    return found


def _lengths(row: DueTask, factor: float) -> str:
    """The interval before a factor was put on it, in cycles and days."""
    parts = []
    if row.interval_cycles is not None:
        parts.append(cycles(row.interval_cycles / factor))
    if row.interval_days is not None:
        days = round(row.interval_days / factor)
        parts.append(ngettext("%(days)s day", "%(days)s days", days) % {"days": number(days)})
    return _(" or ").join(parts) or "–"


def _outcome(row: DueTask) -> list[Evidence]:
    found = []
    if row.due_on_early is not None and row.due_on_early == row.due_on_late:
        found.append(
            Evidence(
                _("Cycles reached"),
                full_day(row.due_on_early),
                _("as far as the readings and the rate tell"),
            )
        )
    elif row.due_on_early is not None and not row.beyond_horizon:
        found.append(
            Evidence(
                _("Cycles reached between"),
                day_range(row.due_on_early, row.due_on_late),
                _("8 times in 10; once in 10 sooner, once in 10 later"),
            )
        )
    if row.probability_30_days is not None:
        found.append(
            Evidence(
                _("Due within 30 days"),
                per_cent(row.probability_30_days),
                _("chance, by cycles or by date"),
            )
        )
    return found


def formula_lines(row: DueTask, figures: DoorFigures | None) -> list[str]:
    """The arithmetic, line by line, with its numbers."""
    cycles_lines, calendar_lines = _by_cycles(row, figures), _by_calendar(row)
    lines = [*cycles_lines, *calendar_lines]
    if row.due_on and cycles_lines and calendar_lines:
        lines.append(_("the earlier decides: %(day)s") % {"day": full_day(row.due_on)})
    return lines


def _by_cycles(row: DueTask, figures: DoorFigures | None) -> list[str]:
    if row.due_cycles is None or row.interval_cycles is None or row.last_done_cycles is None:
        return []
    due_at = _(
        "due at = last done + interval × factors = %(last)s + %(interval)s × %(factor)s = %(due)s"
    ) % {
        "last": number(row.last_done_cycles),
        "interval": number(row.interval_cycles / row.factor),
        "factor": number(row.factor, 2),
        "due": cycles(row.due_cycles),
    }
    if figures is None or figures.cycles_now is None:
        return [due_at]
    return [due_at, *_to_go(row.due_cycles, figures.cycles_now, figures.cycles_per_day)]


def _to_go(due_cycles: float, cycles_now: float, cycles_per_day: float) -> list[str]:
    """Cycles and days from now until so many cycles are reached."""
    left = due_cycles - cycles_now
    lines = [
        _("cycles left = due at − cycles now = %(due)s − %(now)s = %(left)s")
        % {"due": number(due_cycles), "now": number(cycles_now), "left": number(left)}
    ]
    if left > 0 and cycles_per_day > 0:
        words = _(
            "days = cycles left ÷ cycles a day = %(left)s ÷ %(rate)s = %(days)s average days, "
            "laid on the weekdays by how busy each is"
        )
        facts = {"rate": number(cycles_per_day, 1), "days": number(left / cycles_per_day, 1)}
        lines.append(words % {"left": number(left), **facts})
    return lines


def _by_calendar(row: DueTask) -> list[str]:
    if row.interval_days is None or row.last_done_on is None:
        return []
    until = row.last_done_on + timedelta(days=round(row.interval_days))
    if row.governed_by == GovernedBy.DAYS and row.due_on:
        # The hour of the last doing counts too: the sum of whole days may miss by one.
        until = row.due_on
    return [
        _(
            "by the calendar = last done + interval × factors = "
            "%(last)s + %(days)s days × %(factor)s = %(until)s"
        )
        % {
            "last": full_day(row.last_done_on),
            "days": number(row.interval_days / row.factor),
            "factor": number(row.factor, 2),
            "until": full_day(until),
        }
    ]
