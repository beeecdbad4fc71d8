"""The score in sentences: each measure with what it means, its n, its trend and its strip."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta

import numpy as np
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from analytics.datasets.bay_hours import fetch_week_minutes
from analytics.models import Computation, Measure
from analytics.reports.basis import Basis
from analytics.reports.score_cost import cost_line
from analytics.reports.score_measures import SHARES, Line, against_most, share_line, trend_of
from analytics.reports.score_sums import ScoreTable, Sums, fetch_score
from analytics.reports.score_table import Comparison, compare
from fleetdoors.models import Depot, DoorModel
from fleetdoors.templatetags.units import number, per_cent

_MINUTES_AN_HOUR = 60.0
_WEEKS = 4


@dataclass(frozen=True)
class ScoreChoice:
    """What is looked at, and the settings."""

    depot_ids: tuple[int, ...] | None
    door_model_id: int | None
    early_counts: bool
    rate_per_hour: float | None
    by_model: bool


@dataclass(frozen=True)
class ScorePage:
    """The whole page."""

    empty: str
    lead: str = ""
    lines: tuple[Line, ...] = ()
    comparison: Comparison | None = None


def score_page(basis: Basis, choice: ScoreChoice) -> ScorePage:
    """Every measure of the doors chosen; a constant number of queries."""
    if basis.run is None:
        return ScorePage(_("The score is added up with the other figures. None are computed yet."))
    group_by = "door_model" if choice.by_model else "depot"
    table = fetch_score(basis.run, choice.depot_ids, choice.door_model_id, group_by)
    if not table.months:
        return ScorePage(_("No door in sight has a month behind it, so nothing is counted yet."))
    names = _names(table, by_model=choice.by_model)
    return ScorePage(
        empty="",
        lead=_("Complete months from %(first)s on; the last opening is the month that still runs.")
        % {"first": date_format(table.months[0], "F Y")},
        lines=(
            _kept(table, choice),
            _overdue(table),
            _backlog(table, choice, basis.run),
            *(share_line(table.whole(spec.measure), table.months, spec) for spec in SHARES),
            cost_line(table, choice.rate_per_hour),
        ),
        comparison=compare(
            table, names, early_counts=choice.early_counts, rate=choice.rate_per_hour
        ),
    )


def _names(table: ScoreTable, *, by_model: bool) -> dict[int, str]:
    """Names of the groups; runs one query."""
    if by_model:
        return dict(DoorModel.objects.filter(pk__in=table.groups).values_list("pk", "code"))
    return {depot.pk: str(depot) for depot in Depot.objects.filter(pk__in=table.groups)}


def kept_sums(on_time: Sums, early: Sums, *, early_counts: bool) -> Sums:
    """Tasks in time by the setting."""
    amount = on_time.amount + early.amount if early_counts else on_time.amount
    return Sums(amount, on_time.out_of)


def _kept(table: ScoreTable, choice: ScoreChoice) -> Line:
    on_time, early = table.whole(Measure.ON_TIME), table.whole(Measure.EARLY)
    sums = kept_sums(on_time, early, early_counts=choice.early_counts)
    past = sums.past
    before, inside = early.past.share, on_time.past.share
    note = (
        _("%(inside)s in their window, %(before)s before it, %(missed)s missed it. %(trend)s")
        % {
            "inside": per_cent(inside),
            "before": per_cent(before),
            "missed": per_cent(1 - inside - (before or 0.0)),
            "trend": trend_of(sums),
        }
        if inside is not None
        else _("No window closed yet.")
    )
    return Line.of(
        key="kept",
        label=_("Preventive tasks in time"),
        value=per_cent(past.share),
        unit=_("of %(n)s whose window closed") % {"n": number(past.base)},
        note=note,
        shares=sums.by_month(),
        months=table.months,
        definition=_(
            "A task is in time when it was done within its window around the moment it was due, "
            "by cycles or by days, whichever came first; the window is set for each task in the "
            "catalogue. One that was not done by the end of its window is a miss of that month, "
            "also when the truck was not there. Intervals are today's, with the salt of the day. "
            "Drivers' tasks and counter readings are left out."
        ),
        formula=_("in time ÷ windows closed"),
    )


def _overdue(table: ScoreTable) -> Line:
    sums = table.whole(Measure.OVERDUE)
    now = sums.last()
    return Line.of(
        key="overdue",
        label=_("Past their window now"),
        value=number(now.total),
        unit=_("of %(n)s tasks on doors (%(share)s)")
        % {"n": number(now.base), "share": per_cent(now.share)},
        note=_a_year_ago(sums, lambda each: number(each.total)),
        shares=against_most(sums.by_month()),
        months=table.months,
        texts=[number(each) for each in sums.amount.tolist()],
        definition=_(
            "Tasks whose window has closed and that are not done, at the end of each month; the "
            "strip is full at its own worst month."
        ),
        formula=_("tasks past their window ÷ tasks on due lists × doors in service"),
    )


def _a_year_ago(sums: Sums, words: object) -> str:
    first = Sums(sums.amount[:1], sums.out_of[:1])
    if not callable(words) or first.base <= 0 or len(sums.amount) < 2:
        return ""
    return _("A year ago: %(then)s.") % {"then": words(first)}


def _backlog(table: ScoreTable, choice: ScoreChoice, run: Computation) -> Line:
    """Open hours over the hours of a week; a door model has no hours of its own."""
    sums = table.whole(Measure.OPEN_MINUTES)
    hours = sums.last().total / _MINUTES_AN_HOUR
    weekly = None if choice.door_model_id else _weekly_hours(table, choice, run)
    if weekly:
        value, unit = (
            number(hours / weekly, 1),
            _("weeks: %(open)s hours of %(weekly)s a week")
            % {
                "open": number(hours),
                "weekly": number(weekly),
            },
        )
    else:
        value, unit = number(hours), _("hours; weeks need the hours in the bay of a depot")
    return Line.of(
        key="backlog",
        label=_("Work that waits"),
        value=value,
        unit=unit,
        note=_a_year_ago(
            sums,
            lambda each: _("%(hours)s hours") % {"hours": number(each.total / _MINUTES_AN_HOUR)},
        ),
        shares=against_most(sums.by_month()),
        months=table.months,
        texts=[
            _("%(hours)s hours") % {"hours": number(each / _MINUTES_AN_HOUR)}
            for each in sums.amount.tolist()
        ],
        definition=_(
            "Minutes of the tasks that are due at the month's end and not done, a task inside a "
            "larger one not counted twice, over the hours in the bay of the coming weeks. Repairs "
            "that wait are not in it: nobody notes how long they will take. About four weeks, two "
            "more or less, is common practice, no source."
        ),
        formula=_("hours of open work ÷ hours a week"),
    )


def _weekly_hours(table: ScoreTable, choice: ScoreChoice, run: Computation) -> float | None:
    depots = list(table.groups) if not choice.by_model else _depots_of(choice)
    minutes = fetch_week_minutes(depots, run.as_of.date() + timedelta(days=1), _WEEKS)
    known = minutes[~np.isnan(minutes).any(axis=1)]
    return float(known.mean(axis=1).sum()) / _MINUTES_AN_HOUR if len(known) == len(depots) else None


def _depots_of(choice: ScoreChoice) -> list[int]:
    depots = Depot.objects.all()
    if choice.depot_ids is not None:
        depots = depots.filter(pk__in=choice.depot_ids)
    return list(depots.order_by("pk").values_list("pk", flat=True))
