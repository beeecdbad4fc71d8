"""How a task stands on the day it is looked at, also when that is later than it was computed.

Figures of today carry the state that was computed. On older ones time has gone on: a task whose
window has opened, whose day has come or whose window has closed since then is said to be so.
"""

from __future__ import annotations

from datetime import date

from django.db.models import Q

from analytics.models import DueState, DueTask
from analytics.reports.basis import Basis

_BY_TIME = (DueState.LATER, DueState.SOON, DueState.DUE, DueState.LATE)


def standing(task: DueTask, basis: Basis) -> DueState:
    """The state in which a task is on the day of the page."""
    stored = DueState(task.state)
    if stored not in _BY_TIME or not basis.is_behind:
        return stored
    moved = _by_date(task, basis)
    return max(stored, moved, key=_BY_TIME.index)


def _by_date(task: DueTask, basis: Basis) -> DueState:
    day = basis.today
    if task.window_closes_on and task.window_closes_on < day:
        return DueState.LATE
    if task.due_on and task.due_on <= day:
        return DueState.DUE
    if task.window_opens_on and task.window_opens_on <= day:
        return DueState.SOON
    return DueState.LATER


def stands(state: str, basis: Basis) -> Q:
    """The rows that `standing` says are in the state."""
    if state not in _BY_TIME or not basis.is_behind:
        return Q(state=state)
    at_least = [_at_least(each, basis) for each in _BY_TIME]
    place = _BY_TIME.index(DueState(state))
    timed = Q(state__in=_BY_TIME)
    if place + 1 == len(_BY_TIME):
        return timed & at_least[place]
    return at_least[place] & _not_yet(_BY_TIME[place + 1], basis)


def stands_in(states: tuple[DueState, ...], basis: Basis) -> Q:
    """The rows that are in one of the states."""
    chosen = Q(pk__in=())
    for state in states:
        chosen |= stands(state, basis)
    return chosen


def _at_least(state: DueState, basis: Basis) -> Q:
    """Rows that are in the state or in one that follows it; dates unknown count as not reached."""
    day = basis.today
    reached = {
        DueState.LATER: Q(state__in=_BY_TIME),
        DueState.SOON: Q(window_opens_on__isnull=False, window_opens_on__lte=day)
        | Q(due_on__isnull=False, due_on__lte=day)
        | Q(window_closes_on__isnull=False, window_closes_on__lt=day),
        DueState.DUE: Q(due_on__isnull=False, due_on__lte=day)
        | Q(window_closes_on__isnull=False, window_closes_on__lt=day),
        DueState.LATE: Q(window_closes_on__isnull=False, window_closes_on__lt=day),
    }
    return Q(state__in=_BY_TIME[_BY_TIME.index(state) :]) | reached[state]


def _not_yet(state: DueState, basis: Basis) -> Q:
    """The rows that have not reached the state; said as what holds, so that an index serves it."""
    day = basis.today
    ahead: dict[str, date] = {"window_closes_on__gte": day}
    if state in (DueState.SOON, DueState.DUE):
        ahead["due_on__gt"] = day
    if state == DueState.SOON:
        ahead["window_opens_on__gt"] = day
    before = Q(state__in=_BY_TIME[: _BY_TIME.index(state)])
    for name, bound in ahead.items():
        column = name.partition("__")[0]
        before &= Q(**{name: bound}) | Q(**{f"{column}__isnull": True})
    return before
