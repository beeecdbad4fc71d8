"""Visits that a phone planned or began by itself, and trucks that did not come."""

from __future__ import annotations

from datetime import date
from typing import Any

from django.core.exceptions import ValidationError
from django.utils import timezone
from django.utils.translation import gettext as _

from fleetdoors.models import DoorUnit, MaintenanceTask, User
from fleetdoors.services.whereabouts import present_depot, zone_of
from inspections.forms.fields import DayField
from inspections.forms.visit import people_at_work
from inspections.models import DefectReport, Fault, FollowUp, Visit, VisitState
from inspections.services.device_kinds.arriving import (
    Arrived,
    Became,
    Difference,
    EntryRefusedError,
    ended_otherwise,
)
from inspections.services.visits import (
    Jobs,
    add_jobs,
    mark_not_presented,
    open_visit,
    plan_visit,
)


def take_visit_planned(entry: Arrived) -> Became:
    """A visit with its jobs; begun at once where the phone says so.

    A door has one open visit at a time. Another one is told side by side, and a person decides
    whether the jobs join it.
    """
    door = entry.door()
    jobs = _jobs(entry, door)
    begins = entry.is_ticked("begin")
    other = Visit.objects.with_links().filter(door=door, state=VisitState.OPEN).first()
    if begins and other:
        if not entry.is_ticked("into_open"):
            raise EntryRefusedError(
                _("A visit is open at this door already. Correct and send again to join it."),
                differences=_beside(other, entry.author, jobs),
            )
        return {"visit": add_jobs(visit=other, jobs=jobs).pk}
    planned = plan_visit(
        door=door,
        planned_on=_day(entry, door, "planned_on"),
        technician=_technician(entry),
        jobs=jobs,
        entered_at=entry.received_at,
        entered_by=entry.author,
    )
    if begins:
        open_visit(visit=planned, technician=entry.author, started_at=entry.happened_at)
    return {"visit": planned.pk}


def take_jobs(entry: Arrived) -> Became:
    """Jobs that an open visit took up at the door."""
    jobs = _jobs(entry, entry.door())
    visit = entry.open_visit(said=_in_words(jobs), what=_("Jobs"))
    return {"visit": add_jobs(visit=visit, jobs=jobs).pk}


def take_visit_absent(entry: Arrived) -> Became:
    """The truck did not come, and perhaps comes another day."""
    visit = entry.visit()
    if visit is None:
        raise EntryRefusedError(_("This belongs to a visit, and names none."))
    reason = entry.text("reason")
    if visit.state != VisitState.PLANNED:
        raise EntryRefusedError(
            _("Meanwhile this visit is “%(state)s”: nothing was changed.")
            % {"state": visit.get_state_display()},
            differences=[
                *ended_otherwise(visit),
                Difference(_("The truck did not come"), reason, _("not taken")),
            ],
        )
    again_on = _day(entry, visit.door, "again_on") if entry.text("again_on") else None
    mark_not_presented(
        visit=visit,
        reason=reason,
        again_on=again_on,
        entered_at=entry.received_at,
        entered_by=entry.author,
    )
    return {"visit": visit.pk}


def _jobs(entry: Arrived, door: DoorUnit) -> Jobs:
    """What the entry names, of this door alone; queries a few times."""
    return Jobs(
        tasks=list(MaintenanceTask.objects.filter(pk__in=_keys(entry, "tasks")).order_by("pk")),
        faults=list(Fault.objects.filter(door=door, pk__in=_keys(entry, "faults")).order_by("pk")),
        follow_ups=list(
            FollowUp.objects.filter(door=door, pk__in=_keys(entry, "follow_ups")).order_by("pk")
        ),
        defect_reports=list(
            DefectReport.objects.filter(door=door, pk__in=_keys(entry, "defect_reports")).order_by(
                "pk"
            )
        ),
    )


def _keys(entry: Arrived, name: str) -> list[int]:
    """Row numbers of a field with one choice or several."""
    typed: Any = entry.fields.get(name, [])
    several = typed if isinstance(typed, list) else [typed]
    return [int(each) for each in several if str(each).isdecimal()]


def _day(entry: Arrived, door: DoorUnit, name: str) -> date:
    """The day typed, by the depot's clock the day it happened where none was."""
    typed = entry.text(name)
    if not typed:
        return timezone.localdate(entry.happened_at, zone_of(present_depot(door)))
    try:
        day: date = DayField().clean(typed)
    except ValidationError as error:
        raise EntryRefusedError(" ".join(error.messages)) from error
    return day


def _technician(entry: Arrived) -> User | None:
    key = entry.text("technician")
    person: User | None = people_at_work().filter(pk=int(key)).first() if key.isdecimal() else None
    return person


def _beside(other: Visit, author: User, jobs: Jobs) -> list[Difference]:
    """The visit of the phone beside the one on record."""
    on_record = ", ".join(str(job) for job in other.jobs.all()) or _("no job")
    return [
        Difference(_("In hand of"), str(author), str(other.technician or _("nobody"))),
        Difference(_("Jobs"), _in_words(jobs), on_record),
    ]


def _in_words(jobs: Jobs) -> str:
    every = [*jobs.tasks, *jobs.faults, *jobs.follow_ups, *jobs.defect_reports]
    return ", ".join(str(each) for each in every) or _("no job")
