"""Whether a year's work fits the hours there are: sentences, strips, and the numbers behind."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
from django.db.models import Count
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from analytics.assessment.work_base import WEEKS, WorkBase, fetch_work_base
from analytics.assessment.workload import PERIOD_WEEKS, WhatIf, WorkAhead, assess_workload
from analytics.datasets.bay_hours import fetch_week_minutes
from analytics.datasets.clock import EPOCH_DATE
from analytics.datasets.columns import Floats
from analytics.models import Computation, DoorFailure
from analytics.reports.waves import Wave, waves
from analytics.reports.wording import no_way_ahead
from fleetdoors.models import Depot
from fleetdoors.period_strip import Period, PeriodStrip, draw_periods
from fleetdoors.templatetags.units import between, day_range, number

_MINUTES_AN_HOUR = 60.0
_YEAR_DAYS = 365.0
# A month's name takes the width of so many weeks.
LABEL_WEEKS = 3


@dataclass(frozen=True)
class DepotYear:
    """One depot's year: a sentence, its strip, and weeks by number."""

    label: str
    value: str
    unit: str
    note: str
    words: str
    strip: PeriodStrip
    headings: list[str]
    rows: list[list[str]]


@dataclass(frozen=True)
class YearAhead:
    """The whole page; `changed` says what the what-ifs do, `left_out` which doors are not in it."""

    empty: str
    lead: str = ""
    changed: str = ""
    left_out: str = ""
    depots: tuple[DepotYear, ...] = ()
    waves: tuple[Wave, ...] = ()


def year_ahead(
    run: Computation | None,
    depot_ids: tuple[int, ...] | None,
    what_if: WhatIf,
    hours_factor: float,
) -> YearAhead:
    """The year ahead at the depots; a constant number of queries at any size."""
    if run is None:
        return YearAhead(_("The year ahead is worked out from due dates. None are computed yet."))
    base = fetch_work_base(run, depot_ids)
    if base is None:
        return YearAhead(no_way_ahead())
    if not base.looked_at:
        return YearAhead(_("No door in service is in sight, so there is no work to foresee."))
    ahead = assess_workload(base, what_if)
    depots = {depot.pk: depot for depot in Depot.objects.filter(pk__in=ahead.depot_ids.tolist())}
    first = EPOCH_DATE + timedelta(days=int(base.first_day))
    there = fetch_week_minutes(ahead.depot_ids.tolist(), first, WEEKS)
    repairs = _failures(run, ahead)
    return YearAhead(
        empty="",
        lead=_lead(ahead, there * hours_factor, first),
        changed=_changed(base, ahead, what_if),
        left_out=_left_out(base),
        depots=tuple(
            _depot_year(
                ahead,
                row,
                depots[depot_id],
                hours=there[row] * hours_factor,
                first=first,
                repairs=repairs.get(depot_id, 0),
            )
            for row, depot_id in enumerate(ahead.depot_ids.tolist())
        ),
        waves=waves(base, what_if.usage, first),
    )


def _failures(run: Computation, ahead: WorkAhead) -> dict[int, int]:
    """Failures of the last year by depot; runs one query."""
    rows = DoorFailure.objects.filter(
        generation=run, depot__in=ahead.depot_ids.tolist(), day__gte=ahead.first_day - _YEAR_DAYS
    )
    counted = rows.order_by().values("depot").annotate(failures=Count("pk"))
    return {row["depot"]: row["failures"] for row in counted}


def _lead(ahead: WorkAhead, hours: Floats, first: date) -> str:
    total = _(
        "Planned work of %(hours)s hours in the year to %(until)s (%(range)s, 8 times in 10)."
    ) % {
        "hours": _hours(float(ahead.year.mean)),
        "until": date_format(first + timedelta(weeks=WEEKS), "j M Y"),
        "range": _range(float(ahead.year.lower), float(ahead.year.upper)),
    }
    waiting = float(ahead.waiting.sum())
    if waiting >= 1:
        total = _("%(total)s %(late)s hours of it wait already.") % {
            "total": total,
            "late": _hours(waiting),
        }
    over = int((ahead.by_depot.mean > hours).any(axis=1).sum())
    known = int((~np.isnan(hours)).all(axis=1).sum())
    if not known:
        return _("%(total)s No depot has its hours in the bay on record.") % {"total": total}
    if not over:
        return _("%(total)s Every week fits the hours there are.") % {"total": total}
    return ngettext(
        "%(total)s At %(n)s depot some weeks bring more than their hours.",
        "%(total)s At %(n)s depots some weeks bring more than their hours.",
        over,
    ) % {"total": total, "n": number(over)}


def _changed(base: WorkBase, ahead: WorkAhead, what_if: WhatIf) -> str:
    """What the what-ifs do to the year, or nothing where none was asked."""
    if what_if == WhatIf():
        return ""
    before = float(assess_workload(base, WhatIf()).year.mean)
    after = float(ahead.year.mean)
    return _("With what you typed: %(after)s hours a year instead of %(before)s (%(change)s).") % {
        "after": _hours(after),
        "before": _hours(before),
        "change": signed_per_cent(after, before),
    }


def signed_per_cent(after: float, before: float) -> str:
    """A change as per cent with its sign."""
    if before <= 0:
        return _("before there was none")
    change = round(100 * (after / before - 1))
    return _("%(sign)s%(change)s %%") % {
        "sign": "+" if change > 0 else "−" if change < 0 else "±",
        "change": number(abs(change)),
    }


def _left_out(base: WorkBase) -> str:
    """Which doors the forecast does not follow one by one."""
    said = []
    if base.is_sampled:
        said.append(
            _(
                "Worked out from %(chosen)s doors, chosen evenly from the %(all)s in service, to "
                "answer at once; the ranges allow for the choice. One depot alone is nearer."
            )
            % {"chosen": number(base.looked_at), "all": number(base.doors_in_sight)}
        )
    if base.laid_up:
        said.append(
            ngettext(
                "%(n)s door is laid up now and not in it.",
                "%(n)s doors are laid up now and not in it.",
                base.laid_up,
            )
            % {"n": number(base.laid_up)}
        )
    return " ".join(said)


def _depot_year(
    ahead: WorkAhead, row: int, depot: Depot, *, hours: Floats, first: date, repairs: int
) -> DepotYear:
    minutes = ahead.by_depot.mean[row]
    weekly, there = float(minutes.mean()), float(hours.mean())
    is_known = not np.isnan(there)
    share = (
        minutes / np.where(hours > 0, hours, np.nan)
        if is_known
        else minutes / max(minutes.max(), 1)
    )
    share = np.where(np.isnan(share), np.where(minutes > 0, 2.0, 0.0), share)
    unit = (
        _("hours a week of %(hours)s") % {"hours": _hours(there)}
        if is_known
        else _("hours a week; no hours in the bay are on record")
    )
    note = _note(ahead, row, hours, first, repairs)
    return DepotYear(
        label=str(depot),
        value=_hours(weekly),
        unit=unit,
        note=note,
        words=_("%(depot)s, week by week: %(note)s") % {"depot": depot, "note": note},
        strip=draw_periods(
            [Period(label, float(share[k])) for k, label in enumerate(week_labels(first, WEEKS))]
        ),
        headings=[
            _("Weeks"),
            _("Visits"),
            _("Tasks"),
            _("Hours of work"),
            _("Low (1 in 10)"),
            _("High (1 in 10)"),
            _("Hours there are"),
        ],
        rows=_rows(ahead, row, hours, first),
    )


def _shares(minutes: Floats, hours: Floats) -> Floats:
    """How full each week is; work in a week without hours does not fit at all."""
    shut = np.where(minutes > 0, 2.0, 0.0)
    return np.divide(minutes, hours, out=shut, where=hours > 0)


def _note(ahead: WorkAhead, row: int, hours: Floats, first: date, repairs: int) -> str:
    minutes, weeks = ahead.by_depot.mean[row], ahead.by_depot
    peak = int(np.argmax(minutes))
    said = [
        _("Most in the week of %(week)s: %(hours)s hours (%(range)s).")
        % {
            "week": date_format(first + timedelta(weeks=peak), "j M Y"),
            "hours": _hours(float(minutes[peak])),
            "range": _range(float(weeks.lower[row, peak]), float(weeks.upper[row, peak])),
        }
    ]
    over = int((minutes > hours).sum())
    if over:
        said.append(
            ngettext(
                "More than there is room for in %(n)s week of %(weeks)s.",
                "More than there is room for in %(n)s weeks of %(weeks)s.",
                over,
            )
            % {"n": number(over), "weeks": number(WEEKS)}
        )
    if repairs:
        said.append(
            ngettext(
                "Repairs come on top: %(n)s failure in the last year.",
                "Repairs come on top: %(n)s failures in the last year.",
                repairs,
            )
            % {"n": number(repairs)}
        )
    return " ".join(said)


def week_labels(first: date, weeks: int) -> list[str]:
    """The month's name at the first week that begins in it; none where the next follows at once."""
    begun = [first + timedelta(weeks=k) for k in range(weeks)]
    has_room = weeks > LABEL_WEEKS and begun[0].month == begun[LABEL_WEEKS].month
    return [
        date_format(begun[k], "M")
        if (k == 0 and has_room) or (k > 0 and begun[k].month != begun[k - 1].month)
        else ""
        for k in range(weeks)
    ]


def _rows(ahead: WorkAhead, row: int, hours: Floats, first: date) -> list[list[str]]:
    """By four weeks."""
    found = []
    for start in range(0, WEEKS, PERIOD_WEEKS):
        at = slice(start, start + PERIOD_WEEKS)
        begins = first + timedelta(weeks=start)
        found.append(
            [
                day_range(begins, begins + timedelta(days=7 * PERIOD_WEEKS - 1)),
                number(float(ahead.visits[row, at].sum())),
                number(float(ahead.doings[row, at].sum())),
                *(
                    _hours(float(each[row, start // PERIOD_WEEKS]))
                    for each in (ahead.periods.mean, ahead.periods.lower, ahead.periods.upper)
                ),
                _hours(float(hours[at].sum())),
            ]
        )
    return found


def _hours(minutes: float) -> str:
    hours = minutes / _MINUTES_AN_HOUR
    return number(hours, 1 if hours < 10 else 0)


def _range(lower: float, upper: float) -> str:
    decimals = 1 if upper < 10 * _MINUTES_AN_HOUR else 0
    return between(lower / _MINUTES_AN_HOUR, upper / _MINUTES_AN_HOUR, decimals)
