"""What a phone knows of the visit at a door, to begin, work through and close it by itself."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from django.utils.translation import gettext as _

from fleetdoors.models import DoorUnit
from inspections.kept_words import as_read
from inspections.models import (
    DefectReport,
    DeviceEntry,
    Fault,
    FollowUp,
    JobKind,
    JobOutcome,
    Visit,
    VisitJob,
)
from inspections.services.closing_rules import JobClosing, is_always_checked, touches_the_door
from inspections.services.device_kinds.closing import key_of
from inspections.services.labour import LONGEST_SPAN_MINUTES
from inspections.services.safety import asked_by
from inspections.services.visits import Jobs
from inspections.symptoms import caution_codes

# The kinds of entries that begin a visit on a phone.
BEGINNINGS = ("visit_plan",)


def visit_at(door: DoorUnit) -> Visit | None:
    """The door's open visit, or else the next one planned; queries once."""
    to_do = Visit.objects.still_to_do().filter(door=door).with_links()
    return to_do.order_by("state", "planned_on", "pk").first()


def offered_on(door: DoorUnit) -> Jobs:
    """What stands open on the door; queries a few times."""
    return Jobs(
        faults=list(Fault.objects.unrepaired().filter(door=door).select_related("component")),
        follow_ups=list(
            FollowUp.objects.open()
            .filter(door=door)
            .select_related("task")
            .prefetch_related("task__cautions")
        ),
        defect_reports=list(DefectReport.objects.unanswered().filter(door=door)),
    )


def visit_facts_for_phone(
    door: DoorUnit, visit: Visit | None, offered: Jobs, holds: int
) -> dict[str, Any]:
    """The visit as it stands, and what could be taken up; a constant number of queries."""
    return {
        "door": door.serial,
        "model": door.door_model_id,
        "holds": holds,
        "longest_minutes": LONGEST_SPAN_MINUTES,
        "visit": _told(visit) if visit else None,
        "offered": [job_facts(job) for job in _thought_of(offered)],
        "words": words(),
    }


def job_facts(job: VisitJob) -> dict[str, Any]:
    """One job as the phone takes it, whether or not it has a row yet."""
    component = job.fault.component if job.fault else None
    return {
        "key": key_of(job),
        "kind": job.kind,
        "label": label_of(job),
        "component": component.code if component else "",
        "mode": job.fault.mode if job.fault else "",
        "ticks": sorted(asked_by(job)),
        "touches": touches_the_door(job),
        "always": is_always_checked(JobClosing(job=job, outcome=JobOutcome.DONE)),
        "cautions": _cautions(job),
    }


def label_of(job: VisitJob) -> str:
    """A job in a few words."""
    if job.fault:
        what = job.fault.component or job.fault.get_complaint_display()
        return _("Fault: %(what)s") % {"what": what or _("cause not known yet")}
    if job.defect_report:
        return _("A driver says: %(what)s") % {"what": job.defect_report.get_complaint_display()}
    if job.follow_up:
        return f"{job.follow_up.task}: {as_read(job.follow_up.because)}"
    return str(job.task)


def _thought_of(offered: Jobs) -> Iterable[VisitJob]:
    for fault in offered.faults:
        yield VisitJob(kind=JobKind.FAULT, fault=fault)
    for follow_up in offered.follow_ups:
        yield VisitJob(kind=JobKind.FOLLOW_UP, follow_up=follow_up)
    for report in offered.defect_reports:
        yield VisitJob(kind=JobKind.DEFECT, defect_report=report)


def _told(visit: Visit) -> dict[str, Any]:
    jobs = visit.jobs.select_related(
        "task", "fault__component", "follow_up__task", "defect_report"
    ).prefetch_related("task__cautions", "follow_up__task__cautions")
    begun_as = DeviceEntry.objects.filter(kind__in=BEGINNINGS, result__visit=visit.pk)
    last = visit.final_checks.newest_first().first()
    return {
        "pk": visit.pk,
        "state": visit.state,
        "started_at": visit.started_at.isoformat() if visit.started_at else None,
        "technician": str(visit.technician or ""),
        "begun_as": [str(each) for each in begun_as.values_list("client_id", flat=True)],
        "jobs": [job_facts(job) for job in jobs.order_by("pk")],
        "ticks": [
            {"code": each.tick, "reason": each.skipped_reason, "by": str(each.ticked_by)}
            for each in visit.safety_ticks.in_force().select_related("ticked_by")
        ],
        "has_passed": last.has_passed if last else None,
    }


def _cautions(job: VisitJob) -> list[str]:
    if job.fault:
        return list(caution_codes(complaint=job.fault.complaint, component=job.fault.component))
    if job.defect_report:
        return list(caution_codes(complaint=job.defect_report.complaint, component=None))
    task = job.follow_up.task if job.follow_up else job.task
    return [each.code for each in task.cautions.all()] if task else []


def words() -> dict[str, str]:
    """What the page says by itself; `{…}` is filled in on the phone."""
    return {
        "none": _("No visit is planned here. Choose what it is for, and begin."),
        "planned": _("A visit is planned. Nobody has begun it yet."),
        "open": _("The visit is open."),
        "in_hand": _("The visit is open, in the hands of {person}."),
        "closed": _("Closed on this phone and signed by {person}."),
        "absent": _("On this phone: the truck did not come."),
        "handed": _("On this phone: handed to {person}."),
        "later": _("Planned on this phone for {day}."),
        "waits": _("It waits for a signal; what you enter next goes after it."),
        "refused": _("An entry of this visit was refused: see what waits."),
        "begun": _("Visit begun"),
        "plan": _("Visit planned"),
        "tick_set": _("Done: {tick}"),
        "tick_skipped": _("Skipped: {tick} ({reason})"),
        "no_training": _("Spring work is for people whom the shop has authorized: {people}."),
        "nobody": _("nobody at present"),
        "until": _("{person} until {day}"),
        "ticks_open_one": _("1 tick is still open. A tick reminds, it proves nothing."),
        "ticks_open_many": _("{count} ticks are still open. A tick reminds, it proves nothing."),
        "check_passed": _("The final check has passed."),
        "check_not_passed": _("The final check did not pass: put it right and check again."),
        "check_missing": _("The final check has not been made yet."),
        "no_jobs": _("This visit holds no job: sign for what was looked at."),
        "outcome_missing": _("Say of each job what became of it: {job}."),
        "reason_missing": _("A job that was not done says why: {job}."),
        "action_missing": _("A fault is closed with what was done: {job}."),
        "part_missing": _("Say which part it was, or empty the row: {job}."),
        "check_needed": _("This work is not closed before the final check has passed."),
        "sign_missing": _("A visit is closed by name: the sign-off is empty."),
        "close": _("Visit closed"),
        "by_pin": _("Signed by {person}, with the PIN."),
        "no_shop": _("This page is not whole on the phone yet: open it once with a signal."),
    }
