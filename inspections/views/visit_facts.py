"""What the pages of visits show: jobs in words, ticks, and what is at hand."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date, datetime

from django.utils import timezone
from django.utils.translation import gettext as _

from fleetdoors.models import Caution, Depot, MaintenanceTask
from fleetdoors.services.whereabouts import zone_of
from fleetdoors.templatetags.units import figure, unit_shown
from inspections.limits import Circumstances, Limits, limits_for
from inspections.models import (
    Attachment,
    DoorLabel,
    Fault,
    FollowUp,
    Measurement,
    PartUsed,
    RoadHold,
    SafetyTick,
    SpringAuthorisation,
    Tick,
    Visit,
    VisitJob,
    VisitMinutes,
)
from inspections.models.safety_tick import NEVER_SKIPPED
from inspections.quantities import QUANTITIES
from inspections.services.closing import repeats_of
from inspections.services.closing_rules import task_of
from inspections.services.inspecting import figures_of
from inspections.services.safety import ticks_that_apply
from inspections.symptoms import caution_codes, cautions_in_order

LAST_VISITS = 3
# What a job is called, for lists of visits.
JOBS_IN_WORDS = (
    "jobs__task",
    "jobs__follow_up__task",
    "jobs__fault__component",
    "jobs__defect_report",
)


@dataclass
class DepotVisits:
    """The visits at one depot, in the order of work; `today` by its clock."""

    depot: Depot | None
    today: date
    visits: list[Visit] = field(default_factory=list)


@dataclass(frozen=True)
class TickRow:
    """A safety tick that applies: its words, what is on record, whether it may be skipped."""

    code: str
    label: str
    record: SafetyTick | None
    may_be_skipped: bool


@dataclass(frozen=True)
class LimitRow:
    """A quantity with its limits at this door, and what it read when the door was new."""

    name: str
    unit: str
    words: str
    source: str
    baseline: float | None


def round_groups(visits: Iterable[Visit], now: datetime) -> list[DepotVisits]:
    """The visits under their depots, in the order given."""
    groups: dict[int | None, DepotVisits] = {}
    for visit in visits:
        today = timezone.localdate(now, zone_of(visit.depot))
        groups.setdefault(visit.depot_id, DepotVisits(visit.depot, today)).visits.append(visit)
    return list(groups.values())


def visit_facts(visit: Visit) -> dict[str, object]:
    """Everything that the page of a visit shows; a constant number of queries."""
    jobs = list(jobs_of(visit))
    ticks = _ticks(visit)
    return {
        "jobs": jobs,
        "repeats": repeats_of(door=visit.door, faults=[job.fault for job in jobs if job.fault]),
        "ticks": ticks,
        "ticks_open": sum(tick.record is None for tick in ticks),
        "cautions": _cautions(jobs),
        "minutes_worked": VisitMinutes.objects.in_force().filter(visit=visit).first(),
        "checks": visit.final_checks.newest_first().select_related("checked_by"),
        "handovers": visit.handovers.select_related("from_person", "to_person"),
        "inspections": visit.inspections.newest_first(),
        "traces": visit.traces.order_by("-begun_at"),
        "holds": RoadHold.objects.standing().filter(door=visit.door),
        "waiting": _waiting(visit),
        "last_visits": Visit.objects.closed_last(visit.door).prefetch_related(*JOBS_IN_WORDS)[
            :LAST_VISITS
        ],
        "limits": _limits(visit),
        "documents": Attachment.objects.documents_of(visit.door.door_model),
        "parts_used": _parts_used(visit),
        "spring_words": SpringAuthorisation.objects.valid_on(timezone.localdate()).by_person(),
        "label": DoorLabel.objects.filter(door=visit.door).first(),
    }


def jobs_of(visit: Visit) -> Iterable[VisitJob]:
    """The visit's jobs with what they are about; queries once."""
    return visit.jobs.select_related(
        "task", "task_done", "fault__component", "follow_up__task", "defect_report", "visit__door"
    ).order_by("pk")


def _parts_used(visit: Visit) -> Iterable[PartUsed]:
    """Parts in force that were used on the door while the visit lasted; queries once."""
    if visit.started_at is None:
        return []
    used = PartUsed.objects.in_force().filter(door=visit.door, used_at__gte=visit.started_at)
    if visit.closed_at:
        used = used.filter(used_at__lte=visit.closed_at)
    return used.select_related("part").order_by("used_at", "pk")


def _ticks(visit: Visit) -> list[TickRow]:
    standing = visit.safety_ticks.in_force().select_related("ticked_by")
    on_record = {tick.tick: tick for tick in standing}
    return [
        TickRow(code, str(Tick(code).label), on_record.get(code), code not in NEVER_SKIPPED)
        for code in ticks_that_apply(visit)
    ]


def _cautions(jobs: Iterable[VisitJob]) -> list[Caution]:
    codes = ["C6", "C2"]
    of_tasks = (
        MaintenanceTask.objects.filter(pk__in={task.pk for job in jobs if (task := task_of(job))})
        .order_by("cautions__code")
        .values_list("cautions__code", flat=True)
    )
    codes += [code for code in of_tasks if code]
    for job in jobs:
        if job.fault:
            codes += caution_codes(complaint=job.fault.complaint, component=job.fault.component)
        elif job.defect_report:
            codes += caution_codes(complaint=job.defect_report.complaint, component=None)
    return cautions_in_order(dict.fromkeys(codes))


def _waiting(visit: Visit) -> int:
    """How much stands open on the door that is no job of this visit."""
    faults = Fault.objects.unrepaired().filter(door=visit.door)
    follow_ups = FollowUp.objects.open().filter(door=visit.door)
    return (
        faults.exclude(pk__in=visit.jobs.filter(fault__isnull=False).values("fault")).count()
        + follow_ups.exclude(
            pk__in=visit.jobs.filter(follow_up__isnull=False).values("follow_up")
        ).count()
    )


def _limits(visit: Visit) -> list[LimitRow]:
    """The limits of what is measured with a number, before anything is measured."""
    figures = figures_of(visit.door)
    baselines: dict[str, float] = {}
    for each in Measurement.objects.baselines(visit.door):
        baselines.setdefault(each.quantity, each.value)
    found = Circumstances(baselines=baselines)
    rows = []
    for quantity in QUANTITIES.values():
        limits = limits_for(quantity.code, figures, found)
        if quantity.grades or not (limits.are_known or quantity.code in baselines):
            continue
        rows.append(
            LimitRow(
                name=str(quantity.name),
                unit=quantity.unit,
                words=_holds_words(limits, quantity.unit),
                source=limits.source,
                baseline=baselines.get(quantity.code),
            )
        )
    return rows


def _holds_words(limits: Limits, unit: str) -> str:
    """The band in which a value holds."""
    low, high = limits.near_low, limits.near_high
    facts = {
        "low": figure(low, unit, 1),
        "high": figure(high, unit, 1),
        "unit": unit_shown(unit),
    }
    if low is not None and high is not None:
        return _("%(low)s to %(high)s %(unit)s") % facts
    if low is not None:
        return _("from %(low)s %(unit)s") % facts
    return _("up to %(high)s %(unit)s") % facts if high is not None else ""
