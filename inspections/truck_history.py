"""Everything on record about the doors of a truck while they were on it, in order of time."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, tzinfo

from django.db.models import QuerySet
from django.utils.translation import gettext as _

from fleetdoors.models import Fitment, Mounting, Truck
from fleetdoors.templatetags.units import number
from inspections.models import (
    DefectStep,
    Fault,
    FinalCheck,
    Inspection,
    OutsideInvoice,
    Repair,
    RoadHold,
    TaskDone,
    Visit,
    VisitState,
)


@dataclass(frozen=True)
class HistoryLine:
    """One event: when, on which door, what, by whom, at which cycles; corrected ones stay.

    Without `has_time` only the day is on record, and `at` is its noon.
    """

    at: datetime
    door: str
    nature: str
    detail: str
    who: str
    at_cycles: int | None
    corrected_because: str = ""
    has_time: bool = True


@dataclass(frozen=True)
class Range:
    """Days of which the history is told, both included."""

    from_on: date
    until_on: date


def history_of_truck(truck: Truck, within: Range) -> list[HistoryLine]:
    """The lines of the days, the latest first; runs a constant number of queries."""
    zone = truck.depot.zone
    stays = list(Mounting.objects.filter(truck=truck).select_related("door"))
    doors = {stay.door_id for stay in stays}
    begin = datetime.combine(within.from_on, time.min, zone)
    end = datetime.combine(within.until_on, time.max, zone)
    lines = [
        (door, line)
        for found in (_tasks, _faults, _repairs, _inspections, _checks, _visits)
        for door, line in found(doors, begin, end)
    ]
    lines += [(door, line) for door, line in _parts(doors, within, zone)]
    kept = [line for door, line in lines if _was_on(stays, door, line.at.astimezone(zone).date())]
    kept += _reports(truck, begin, end)
    kept += _holds(truck, begin, end)
    kept += _invoices(truck, within, zone)
    return sorted(kept, key=lambda line: (line.at, line.door, line.nature), reverse=True)


def digest_of(lines: Iterable[HistoryLine]) -> str:
    """A short mark of exactly these lines: the same record prints the same mark."""
    told = "\n".join(
        f"{line.at.astimezone(UTC).isoformat()}|{line.door}|{line.nature}|{line.detail}|{line.who}|"
        f"{line.at_cycles}|{line.corrected_because}"
        for line in lines
    )
    return hashlib.sha256(told.encode()).hexdigest()[:16]


def _was_on(stays: Iterable[Mounting], door: int, day: date) -> bool:
    """Whether the door was on the truck on the day; the day of a change belongs to both."""
    return any(
        stay.door_id == door
        and stay.mounted_on <= day
        and (stay.removed_on is None or day <= stay.removed_on)
        for stay in stays
    )


Found = Iterator[tuple[int, HistoryLine]]


def _tasks(doors: set[int], begin: datetime, end: datetime) -> Found:
    rows = TaskDone.objects.filter(door__in=doors, done_at__range=(begin, end))
    for row in rows.select_related("door", "task", "entered_by", "correction"):
        who = row.done_by or str(row.entered_by or "")
        yield (
            row.door_id,
            HistoryLine(
                row.done_at, row.door.serial, str(row.task), "", who, row.at_cycles, _why(row)
            ),
        )


def _faults(doors: set[int], begin: datetime, end: datetime) -> Found:
    rows = Fault.objects.filter(door__in=doors, found_at__range=(begin, end))
    for row in rows.select_related("door", "component", "entered_by", "correction"):
        what = row.get_mode_display() or row.get_complaint_display() or str(row.component or "")
        detail = ", ".join(each for each in (row.get_action_display(), row.note) if each)
        yield (
            row.door_id,
            HistoryLine(
                row.found_at,
                row.door.serial,
                _("Fault: %(what)s") % {"what": what},
                detail,
                str(row.entered_by or ""),
                row.at_cycles,
                _why(row),
            ),
        )


def _repairs(doors: set[int], begin: datetime, end: datetime) -> Found:
    rows = Repair.objects.in_force().filter(fault__door__in=doors, repaired_at__range=(begin, end))
    for row in rows.select_related("fault__door", "fault__component", "entered_by"):
        causes = (row.get_mechanism_display(), row.get_cause_display())
        yield (
            row.fault.door_id,
            HistoryLine(
                row.repaired_at,
                row.fault.door.serial,
                _("Repaired: %(what)s") % {"what": row.fault.component or ""},
                ", ".join(each for each in causes if each),
                str(row.entered_by or ""),
                None,
            ),
        )


def _inspections(doors: set[int], begin: datetime, end: datetime) -> Found:
    rows = Inspection.objects.filter(door__in=doors, begun_at__range=(begin, end))
    for row in rows.select_related("door"):
        detail = _("all as it should be") if row.all_as_it_should_be else row.note
        yield (
            row.door_id,
            HistoryLine(row.begun_at, row.door.serial, _("Inspected"), detail, row.inspector, None),
        )


def _checks(doors: set[int], begin: datetime, end: datetime) -> Found:
    rows = FinalCheck.objects.filter(visit__door__in=doors, checked_at__range=(begin, end))
    for row in rows.select_related("visit__door", "checked_by"):
        detail = _("passed") if row.has_passed else _("not passed: %(note)s") % {"note": row.note}
        yield (
            row.visit.door_id,
            HistoryLine(
                row.checked_at,
                row.visit.door.serial,
                _("Final check"),
                detail,
                str(row.checked_by),
                None,
            ),
        )


def _visits(doors: set[int], begin: datetime, end: datetime) -> Found:
    rows = Visit.objects.filter(
        door__in=doors, state=VisitState.CLOSED, closed_at__range=(begin, end)
    )
    for row in rows.select_related("door"):
        if row.closed_at:
            yield (
                row.door_id,
                HistoryLine(
                    row.closed_at,
                    row.door.serial,
                    _("Visit signed off"),
                    _("visit %(number)s") % {"number": row.pk},
                    row.signed_by,
                    None,
                ),
            )


def _parts(doors: set[int], within: Range, zone: tzinfo) -> Found:
    """Parts fitted, with what they were put in place of."""
    # A life that goes on after all has a later row that says when it began.
    rows: QuerySet[Fitment] = Fitment.objects.filter(
        door__in=doors,
        fitted_on__range=(within.from_on, within.until_on),
        correction__isnull=True,
    )
    for row in rows.select_related("door", "component", "part", "taken_back"):
        if row.fitted_on is None:
            continue
        cycles = None if row.fitted_at_cycles is None else int(row.fitted_at_cycles)
        yield (
            row.door_id,
            HistoryLine(
                datetime.combine(row.fitted_on, time(12), zone),
                row.door.serial,
                _("Fitted: %(what)s") % {"what": row.component},
                " ".join(str(each) for each in (row.position, row.part or "") if each),
                "",
                cycles,
                row.taken_back.reason if row.superseded_at else "",
                has_time=False,
            ),
        )


def _reports(truck: Truck, begin: datetime, end: datetime) -> Iterator[HistoryLine]:
    """Drivers' reports of this truck, step by step."""
    steps = DefectStep.objects.filter(report__truck=truck, taken_at__range=(begin, end))
    for step in steps.select_related("report__door"):
        who = ", ".join(each for each in (step.name, step.role) if each)
        yield HistoryLine(
            step.taken_at,
            step.report.door.serial,
            _("Driver's report: %(step)s") % {"step": step.get_kind_display()},
            ", ".join(each for each in (step.report.get_complaint_display(), step.reason) if each),
            who,
            None,
        )
    reports = truck.defect_reports.filter(reported_at__range=(begin, end))
    for report in reports.select_related("door"):
        yield HistoryLine(
            report.reported_at,
            report.door.serial,
            _("Driver's report"),
            ", ".join(each for each in (report.get_complaint_display(), report.words) if each),
            report.reporter,
            None,
        )


def _holds(truck: Truck, begin: datetime, end: datetime) -> Iterator[HistoryLine]:
    """When the truck was kept, and who signed that it may go."""
    for hold in RoadHold.objects.filter(truck=truck).select_related("door", "placed_by"):
        if begin <= hold.placed_at <= end:
            yield HistoryLine(
                hold.placed_at,
                hold.door.serial,
                _("Held: %(why)s") % {"why": hold.get_because_display()},
                hold.detail,
                str(hold.placed_by or ""),
                None,
            )
        if hold.lifted_at and begin <= hold.lifted_at <= end:
            who = ", ".join(each for each in (hold.signed_by, hold.signed_role) if each)
            yield HistoryLine(
                hold.lifted_at, hold.door.serial, _("Hold lifted"), hold.what_was_done, who, None
            )


def _invoices(truck: Truck, within: Range, zone: tzinfo) -> Iterator[HistoryLine]:
    """Work done outside, by the day of its invoice; one taken back stays, and says why."""
    rows = OutsideInvoice.objects.entered().filter(
        truck=truck, invoiced_on__range=(within.from_on, within.until_on)
    )
    for row in rows:
        yield HistoryLine(
            datetime.combine(row.invoiced_on, time(12), zone),
            row.door.serial,
            _("Done outside: %(what)s") % {"what": row.what_for},
            _("invoice %(number)s, %(amount)s %(currency)s")
            % {
                "number": row.number,
                "amount": number(float(row.amount), 2),
                "currency": row.currency,
            },
            row.supplier,
            None,
            row.correction.reason if row.superseded_at else "",
            has_time=False,
        )


def _why(row: TaskDone | Fault) -> str:
    """Why the row was corrected, empty for one in force."""
    if row.superseded_at is None:
        return ""
    correction = getattr(row, "correction", None)
    return (correction.reason if correction else "") or _("corrected")
