"""Safety ticks: which apply to a visit, and how each is set or skipped."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from fleetdoors.models import Performer, User
from inspections.models import JobKind, SafetyTick, Tick, Visit, VisitJob, VisitState
from inspections.models.safety_tick import NEVER_SKIPPED
from inspections.models.spring_authorisation import may_work_on_springs
from inspections.services.visits import locked

ALWAYS = (Tick.CHOCKS, Tick.CLEAR_OPENING)
# The caution of a task says what has to be ready before it.
BY_CAUTION = {"C3": (Tick.ISOLATION,), "C4": (Tick.TOOLS,), "C11": (Tick.TOOLS,)}
SPRING_COMPONENTS = ("spring", "lift_cable")
# A failed balance is put right at the spring.
SPRING_FOLLOW_UPS = ("BAL", "REN")


class TickRefusedError(ValueError):
    """The tick cannot be set or skipped; `field` names what to look at."""

    def __init__(self, message: str, *, field: str) -> None:
        super().__init__(message)
        self.field = field


@transaction.atomic
def set_tick(
    *, visit: Visit, tick: str, ticked_at: datetime, ticked_by: User, skipped_reason: str = ""
) -> SafetyTick:
    """Set a tick, or skip one with a reason; set twice, it is set once."""
    visit = locked(visit)
    if visit.state != VisitState.OPEN:
        raise TickRefusedError(
            _("Ticks are set on an open visit: this one is “%(state)s”.")
            % {"state": visit.get_state_display()},
            field="tick",
        )
    existing = visit.safety_ticks.in_force().filter(tick=tick).first()
    if existing:
        return existing
    reason = skipped_reason.strip()
    _check(tick, reason, ticked_at, ticked_by)
    return SafetyTick.objects.create(
        visit=visit, tick=tick, ticked_at=ticked_at, ticked_by=ticked_by, skipped_reason=reason
    )


@transaction.atomic
def take_back_tick(
    *, visit: Visit, tick: str, taken_back_at: datetime, taken_back_by: User
) -> SafetyTick | None:
    """Take back a tick set by mistake; it stays on record, and is asked for again."""
    visit = locked(visit)
    if visit.state != VisitState.OPEN:
        raise TickRefusedError(
            _("Ticks are taken back on an open visit: this one is “%(state)s”.")
            % {"state": visit.get_state_display()},
            field="tick",
        )
    standing = visit.safety_ticks.in_force().filter(tick=tick).first()
    if standing:
        standing.taken_back_at, standing.taken_back_by = taken_back_at, taken_back_by
        standing.save(update_fields=("taken_back_at", "taken_back_by"))
    return standing


def ticks_that_apply(visit: Visit) -> list[str]:
    """The ticks that the visit's jobs ask for, in the order in which they are set; queries."""
    asked: set[str] = set(ALWAYS)
    jobs = visit.jobs.select_related("task", "fault__component", "follow_up__task")
    for job in jobs.prefetch_related("task__cautions", "follow_up__task__cautions"):
        asked |= asked_by(job)
    return [tick for tick in Tick.values if tick in asked]


def missing_ticks(visit: Visit) -> list[str]:
    """The ticks that apply and are neither set nor skipped; queries."""
    on_record = set(visit.safety_ticks.in_force().values_list("tick", flat=True))
    return [tick for tick in ticks_that_apply(visit) if tick not in on_record]


def asked_by(job: VisitJob) -> set[str]:
    """The ticks that a job asks for; a job that is only thought of has no row yet."""
    if job.kind in (JobKind.FAULT, JobKind.DEFECT):
        asked = {Tick.ISOLATION, Tick.TOOLS}
        component = job.fault.component if job.fault else None
        if component and component.code in SPRING_COMPONENTS:
            asked.add(Tick.SPRING_TRAINED)
        return set(asked)
    follow_up = job.follow_up
    task = follow_up.task if follow_up else job.task
    if task is None:
        return set()
    asked = {tick for each in task.cautions.all() for tick in BY_CAUTION.get(each.code, ())}
    is_spring_work = task.performer == Performer.SPRING_TRAINED
    if is_spring_work or (follow_up and task.code in SPRING_FOLLOW_UPS):
        asked.add(Tick.SPRING_TRAINED)
    return set(asked)


def _check(tick: str, reason: str, ticked_at: datetime, ticked_by: User) -> None:
    if tick not in Tick.values:
        raise TickRefusedError(_("There is no such tick: %(tick)s.") % {"tick": tick}, field="tick")
    if reason and tick in NEVER_SKIPPED:
        raise TickRefusedError(
            _("“%(tick)s” is never skipped.") % {"tick": Tick(tick).label}, field="skipped_reason"
        )
    trained = tick != Tick.SPRING_TRAINED or may_work_on_springs(
        ticked_by, timezone.localdate(ticked_at)
    )
    if not trained:
        raise TickRefusedError(
            _(
                "Spring work is for people whom the shop has authorized: %(person)s is not on "
                "record as one on %(day)s."
            )
            % {"person": ticked_by, "day": timezone.localdate(ticked_at)},
            field="tick",
        )
