"""Doors that left the fleet, in the words of the page that lets their records go."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from fleetdoors.retention import LAW, SHIPPED, Period, RecordClass, RuleSet
from inspections.models import LettingGo
from inspections.services.retention.departed import Departed

MOST_SHOWN = 20


@dataclass(frozen=True)
class Line:
    """One door: `until` None while a truck that its records name is in the fleet."""

    door: str
    truck: str
    left_on: date
    rows: int
    until: date | None
    because: str
    may_go: bool


def lines_of(found: Sequence[Departed], now: datetime) -> list[Line]:
    """A line for each door, those whose records may go first."""
    return [
        Line(
            door=each.door.serial,
            truck=str(each.truck or ""),
            left_on=each.left_on,
            rows=each.rows,
            until=each.may_go_on,
            because=str(each.governed_by.label) if each.governed_by else "",
            may_go=each.may_go(now),
        )
        for each in found
    ]


@dataclass(frozen=True)
class PeriodLine:
    """What is kept for how long: by the rules chosen, and by what is shipped."""

    kind: str
    law: str
    shipped: str


def periods(rule_set: RuleSet) -> list[PeriodLine]:
    """The periods of every class of records."""
    return [
        PeriodLine(str(each.label), _words(LAW[rule_set][each]), _words(SHIPPED[each]))
        for each in RecordClass
    ]


def _words(period: Period) -> str:
    parts = []
    if period.from_record:
        months = period.from_record
        parts.append(
            ngettext("%(n)s month from its own day", "%(n)s months from its own day", months)
            % {"n": months}
        )
    if period.from_leaving:
        months = period.from_leaving
        parts.append(
            ngettext("%(n)s month after leaving", "%(n)s months after leaving", months)
            % {"n": months}
        )
    return ", ".join(parts) or _("until it leaves")


def last_gone() -> list[LettingGo]:
    """The doors whose records were let go last."""
    rows = LettingGo.objects.select_related("door", "gone_by").order_by("-gone_at", "-pk")
    return list(rows[:MOST_SHOWN])
