"""What a change of the catalogue would do to the coming work, said before it is made."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from analytics.assessment.changed_task import with_sheet
from analytics.assessment.work_base import fetch_work_base
from analytics.assessment.workload import WhatIf, assess_workload
from analytics.datasets.clock import EPOCH_DATE
from analytics.datasets.columns import Floats
from analytics.models import Computation
from analytics.reports.wording import no_way_ahead
from analytics.reports.work_ahead_page import signed_per_cent
from fleetdoors.services.task_sheet import TaskSheet
from fleetdoors.templatetags.units import number

WEEKS_SHOWN = 13
_MINUTES_AN_HOUR = 60.0


@dataclass(frozen=True)
class Preview:
    """Before and after, in a sentence and week by week."""

    problem: str
    sentence: str = ""
    note: str = ""
    headings: tuple[str, ...] = ()
    rows: tuple[tuple[str, ...], ...] = ()


def preview_change(
    run: Computation | None, depot_ids: tuple[int, ...] | None, code: str, sheet: TaskSheet
) -> Preview:
    """Due counts and hours of the weeks ahead as the catalogue is, and as it would be."""
    if run is None:
        return Preview(_("No due dates are computed yet, so nothing can be foreseen."))
    base = fetch_work_base(run, depot_ids)
    if base is None:
        return Preview(no_way_ahead())
    if not base.looked_at:
        return Preview(_("No door in service is in sight, so nothing changes."))
    changed = with_sheet(base, code, sheet)
    before, after = (assess_workload(each, WhatIf()) for each in (base, changed))
    row = changed.tasks.codes.index(code)
    is_new = code not in base.tasks.codes
    weeks = _Weeks(
        first=EPOCH_DATE + timedelta(days=int(base.first_day)),
        due_now=np.zeros(len(after.by_task[row])) if is_new else before.by_task[row],
        due_then=after.by_task[row],
        hours_now=before.total.mean / _MINUTES_AN_HOUR,
        hours_then=after.total.mean / _MINUTES_AN_HOUR,
    )
    return Preview(
        problem="",
        sentence=_sentence(weeks),
        note=_note(base.is_sampled, base.looked_at, base.doors_in_sight),
        headings=(
            _("Week of"),
            _("Due now"),
            _("Due then"),
            _("Hours now"),
            _("Hours then"),
        ),
        rows=tuple(_row(weeks, week) for week in range(WEEKS_SHOWN)),
    )


@dataclass(frozen=True)
class _Weeks:
    """Doings of the task and hours of all work, week by week, as it is and as it would be."""

    first: date
    due_now: Floats
    due_then: Floats
    hours_now: Floats
    hours_then: Floats


def _sentence(weeks: _Weeks) -> str:
    soon = slice(0, WEEKS_SHOWN)
    hours, were = float(weeks.hours_then[soon].sum()), float(weeks.hours_now[soon].sum())
    year, year_was = float(weeks.hours_then.sum()), float(weeks.hours_now.sum())
    return _(
        "In the next %(weeks)s weeks the task falls due about %(after)s times instead of "
        "%(before)s, and all planned work takes %(hours)s hours instead of %(were)s "
        "(%(change)s); over the year %(year)s instead of %(year_was)s (%(year_change)s)."
    ) % {
        "weeks": number(WEEKS_SHOWN),
        "after": number(float(weeks.due_then[soon].sum())),
        "before": number(float(weeks.due_now[soon].sum())),
        "hours": number(hours),
        "were": number(were),
        "change": signed_per_cent(hours, were),
        "year": number(year),
        "year_was": number(year_was),
        "year_change": signed_per_cent(year, year_was),
    }


def _row(weeks: _Weeks, week: int) -> tuple[str, ...]:
    return (
        date_format(weeks.first + timedelta(weeks=week), "j M Y"),
        number(float(weeks.due_now[week])),
        number(float(weeks.due_then[week])),
        number(float(weeks.hours_now[week]), 1),
        number(float(weeks.hours_then[week]), 1),
    )


def _note(is_sampled: bool, looked_at: int, doors: int) -> str:
    if not is_sampled:
        return _("Worked out for every door in service in sight.")
    return _("Worked out from %(chosen)s of %(all)s doors, chosen evenly.") % {
        "chosen": number(looked_at),
        "all": number(doors),
    }
