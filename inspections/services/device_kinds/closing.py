"""A visit that a phone closed: what became of each job, the parts it took, and the sign-off."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.utils import timezone
from django.utils.translation import gettext as _

from fleetdoors.models import Component
from fleetdoors.services.whereabouts import present_depot, zone_of
from inspections.forms.closing import JobForm, SignOffForm
from inspections.models import JobOutcome, Visit, VisitJob, VisitState
from inspections.services.closing import SignOff, close_visit
from inspections.services.closing_rules import JobClosing
from inspections.services.device_kinds.arriving import (
    Arrived,
    Became,
    Difference,
    EntryRefusedError,
    ended_otherwise,
)
from inspections.services.device_kinds.at_a_door import errors_of
from inspections.services.fitting import parts_for

BY_PIN = "pin"
MOST_PART_ROWS = 2


def take_visit_closed(entry: Arrived) -> Became:
    """The visit whole or not at all; one that has ended is told job by job beside the phone's."""
    visit = entry.visit()
    if visit is None:
        raise EntryRefusedError(_("This belongs to a visit, and names none."))
    jobs = {key_of(job): job for job in _jobs_of(visit)}
    if visit.state != VisitState.OPEN:
        raise EntryRefusedError(
            _("Meanwhile this visit is “%(state)s”: it was not closed again.")
            % {"state": visit.get_state_display()},
            differences=[*ended_otherwise(visit), *_job_by_job(entry, jobs)],
        )
    _check_known(entry, jobs)
    minutes = _minutes(entry)
    with timezone.override(zone_of(present_depot(visit.door))):
        closings = _closings(entry, visit, jobs)
    closed = close_visit(
        visit=visit,
        closings=closings,
        sign_off=SignOff(
            signed_by=_signed_by(entry),
            # Two clocks put right by hand may differ by a breath.
            closed_at=max(entry.happened_at, visit.started_at or entry.happened_at),
            entered_at=entry.received_at,
            entered_by=entry.author,
            minutes=minutes,
        ),
    )
    return {"visit": closed.pk}


def key_of(job: VisitJob) -> str:
    """What a phone calls a job: by what it is about, for a job it made has no number there."""
    target = job.task_id or job.fault_id or job.follow_up_id or job.defect_report_id
    return f"{job.kind}-{target}"


def _jobs_of(visit: Visit) -> list[VisitJob]:
    rows = visit.jobs.select_related(
        "task", "fault__component", "follow_up__task", "defect_report", "visit__door"
    )
    return list(rows.order_by("pk"))


def _signed_by(entry: Arrived) -> str:
    """The name typed; who signed by PIN signed by the own name and no other."""
    own = str(entry.author)[:100]
    return own if entry.text("signed_with") == BY_PIN else entry.text("signed_by")[:100] or own


def _minutes(entry: Arrived) -> int | None:
    """The minutes typed, None where nothing was; older phones do not ask."""
    form = SignOffForm({"signed_by": _signed_by(entry), "minutes": entry.text("minutes")})
    if not form.is_valid():
        raise EntryRefusedError(errors_of(form))
    minutes: int | None = form.cleaned_data["minutes"]
    return minutes


def _told(entry: Arrived) -> dict[str, str]:
    """The outcome of each job that the phone speaks of."""
    end = "-outcome"
    return {name.removesuffix(end): entry.text(name) for name in entry.fields if name.endswith(end)}


def _check_known(entry: Arrived, jobs: Mapping[str, VisitJob]) -> None:
    strange = [
        Difference(str(entry.fields.get(f"{key}-label", key)), _word(outcome), _("no job of it"))
        for key, outcome in _told(entry).items()
        if key not in jobs
    ]
    if strange:
        raise EntryRefusedError(
            _("This visit does not hold what the phone closes."), differences=strange
        )


def _closings(entry: Arrived, visit: Visit, jobs: Mapping[str, VisitJob]) -> list[JobClosing]:
    """What became of each job; one that the phone never saw stays open, and says so."""
    told = _told(entry)
    parts = list(parts_for(visit.door.door_model))
    components = {each.code: each for each in Component.objects.order_by("name")}
    closings, faulty = [], []
    for key, job in jobs.items():
        if key not in told:
            reason = _("Came to the visit after the phone was last told of it.")
            closings.append(JobClosing(job=job, outcome=JobOutcome.NOT_DONE, reason=reason))
            continue
        form = JobForm(
            _fields_of(entry, key, job), job=job, parts=parts, components=components, proposed=None
        )
        if form.is_whole():
            closings.append(form.closing())
        else:
            faulty.append(f"{job}: {errors_of(form, *form.rows.forms)}")
    if faulty:
        raise EntryRefusedError(" ".join(faulty))
    return closings


def _fields_of(entry: Arrived, key: str, job: VisitJob) -> dict[str, Any]:
    """The fields of one job under the names that its form gives them."""
    prefix = f"job-{job.pk}"
    own = {
        f"{prefix}-{name.removeprefix(f'{key}-')}": value
        for name, value in entry.fields.items()
        if name.startswith(f"{key}-")
    }
    rows = {f"{prefix}-parts-TOTAL_FORMS": MOST_PART_ROWS, f"{prefix}-parts-INITIAL_FORMS": 0}
    return {**own, **rows}


def _job_by_job(entry: Arrived, jobs: Mapping[str, VisitJob]) -> list[Difference]:
    told = _told(entry)
    known = [
        Difference(str(job), _word(told.get(key, "")), _word(job.outcome, job.reason))
        for key, job in jobs.items()
    ]
    return [*known, Difference(_("Signed by"), _signed_by(entry), _("not taken"))]


def _word(outcome: str, reason: str = "") -> str:
    word = str(JobOutcome(outcome).label) if outcome in JobOutcome.values else _("not said")
    return f"{word}: {reason}" if reason else word
