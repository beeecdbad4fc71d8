"""Work that somebody found and that waits: one source for every plan, as it was known."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from math import inf

from django.db.models import Q

from inspections.models import (
    DefectReport,
    DefectState,
    DefectStep,
    Fault,
    FollowUp,
    HoldReason,
    JobKind,
    RoadHold,
)

# A repair for a door that a hold keeps still and on which no fault is written down.
HOLD = "hold"
# Reports on which a workshop still has something to do.
WAITING_REPORTS = (DefectState.REPORTED, DefectState.ASSESSED, DefectState.REPAIR_PLANNED)
SPRINGS = ("spring", "lift_cable")
# Door id to the moment, in seconds since 1970, as of which its record counts; infinite for all
# that is on record.
Moments = Mapping[int, float]


@dataclass(frozen=True)
class Finding:
    """Work that somebody found: a follow-up, a fault, a report or a hold, by kind and id."""

    kind: str
    pk: int
    door: int
    task: int = 0
    of_springs: bool = False
    keeps_still: bool = False


def fetch_findings(moments: Moments) -> tuple[Finding, ...]:
    """What waits on these doors, as it was known at each door's moment; runs five queries."""
    since = min(moments.values(), default=inf)
    earliest = None if since == inf else datetime.fromtimestamp(since, UTC)
    return (
        *_follow_ups(moments, earliest),
        *_faults(moments, earliest),
        *_reports(moments, earliest),
        *_holds(moments, earliest),
    )


def _not_before(earliest: datetime | None, *fields: str) -> Q:
    """The first field empty, or one of the fields not before the earliest moment."""
    found = Q(**{f"{fields[0]}__isnull": True})
    if earliest is not None:
        for field in fields:
            found |= Q(**{f"{field}__gte": earliest})
    return found


def _is_before(moment: datetime | None, limit: float) -> bool:
    return moment is not None and moment.timestamp() < limit


def _is_open(moment: float | None, *span: datetime | None) -> bool:
    """Begun and entered before the moment, and not known to have ended before it."""
    begun, entered, ended, end_entered = span
    if moment is None or not (_is_before(begun, moment) and _is_before(entered, moment)):
        return False
    known_later = end_entered is not None and not _is_before(end_entered, moment)
    return known_later or not _is_before(ended, moment)


def _follow_ups(moments: Moments, earliest: datetime | None) -> Iterable[Finding]:
    rows = FollowUp.objects.filter(_not_before(earliest, "closed_at", "end_entered_at"))
    for pk, door, task, *span in rows.order_by("opened_at", "pk").values_list(
        "pk", "door", "task", "opened_at", "entered_at", "closed_at", "end_entered_at"
    ):
        if _is_open(moments.get(door), *span):
            yield Finding(JobKind.FOLLOW_UP, pk, door, task)


def _holds(moments: Moments, earliest: datetime | None) -> Iterable[Finding]:
    rows = RoadHold.objects.filter(_not_before(earliest, "lifted_at", "end_entered_at"))
    for pk, door, because, *span in rows.order_by("placed_at", "pk").values_list(
        "pk", "door", "because", "placed_at", "entered_at", "lifted_at", "end_entered_at"
    ):
        if _is_open(moments.get(door), *span):
            springs = because == HoldReason.SPRING_OR_CABLE
            yield Finding(HOLD, pk, door, of_springs=springs, keeps_still=True)


def _faults(moments: Moments, earliest: datetime | None) -> Iterable[Finding]:
    """Faults that were put off: nothing done yet, or off the road beyond the moment.

    A failure without an action that came with an import is history, unless the door is off the
    road with it: old files seldom say what was done. A fault that took no function away, and for
    which nothing was done, was put off and waits, whoever entered it.
    """
    undone = Q(action="")
    if earliest is not None:
        undone |= Q(off_road_until__gte=earliest)
    waiting = Q(entered_by__isnull=False) | Q(is_failure=False) | Q(off_road_from__isnull=False)
    rows = Fault.objects.filter(undone & waiting & _not_before(earliest, "superseded_at"))
    for pk, door, component, action, author, failed, *times in rows.newest_first().values_list(
        "pk", "door", "component__code", "action", "entered_by", "is_failure", "found_at",
        "entered_at", "superseded_at", "off_road_from", "off_road_until",
    ):  # fmt: skip
        moment = moments.get(door)
        found, entered, superseded, off_from, off_until = times
        if not _is_open(moment, found, entered, superseded, None) or moment is None:
            continue
        is_off = _is_before(off_from, moment) and not _is_before(off_until, moment)
        is_undone = action == "" or (is_off and off_until is not None)
        if is_undone and (author is not None or not failed or is_off):
            yield Finding(JobKind.FAULT, pk, door, of_springs=component in SPRINGS)


def _reports(moments: Moments, earliest: datetime | None) -> Iterable[Finding]:
    """Drivers' reports whose last step by then left something to do; two queries."""
    waits = Q(state__in=WAITING_REPORTS)
    if earliest is not None:
        waits |= Q(steps__entered_at__gte=earliest) | Q(steps__taken_at__gte=earliest)
    rows = list(
        DefectReport.objects.filter(waits)
        .order_by("pk")
        .distinct()
        .values_list("pk", "door", "reported_at", "entered_at")
    )
    last: dict[int, str] = {}
    door_of = {pk: door for pk, door, *_times in rows}
    steps = DefectStep.objects.filter(report__in=DefectReport.objects.filter(waits))
    for report, kind, taken, entered in steps.order_by("taken_at", "pk").values_list(
        "report", "kind", "taken_at", "entered_at"
    ):
        moment = moments.get(door_of.get(report, 0))
        if moment is not None and _is_before(taken, moment) and _is_before(entered, moment):
            last[report] = kind
    for pk, door, reported, entered in rows:
        if not _is_open(moments.get(door), reported, entered, None, None):
            continue
        if last.get(pk, DefectState.REPORTED) in WAITING_REPORTS:
            yield Finding(JobKind.DEFECT, pk, door)
