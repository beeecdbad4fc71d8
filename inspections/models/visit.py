"""Visits to a truck: planned, open, closed, or not presented; and the jobs they hold."""

from __future__ import annotations

from datetime import UTC, date, datetime
from typing import TYPE_CHECKING, Self

from django.conf import settings
from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from fleetdoors.models import Depot, DoorUnit, MaintenanceTask, Truck
from inspections.models.defect_report import DefectReport
from inspections.models.fault import Fault
from inspections.models.follow_up import FollowUp
from inspections.models.task_done import TaskDone

if TYPE_CHECKING:
    from fleetdoors.models import User


class VisitState(models.TextChoices):
    """Where a visit stands."""

    PLANNED = "planned", _("planned")
    OPEN = "open", _("open")
    CLOSED = "closed", _("closed")
    NOT_PRESENTED = "not_presented", _("truck did not come")
    DROPPED = "dropped", _("taken off the plan")


STILL_TO_DO = (VisitState.PLANNED, VisitState.OPEN)


class VisitQuerySet(models.QuerySet["Visit"]):
    """Visits by the page's question."""

    def visible_to(self, user: User) -> Self:
        """Visits at the depots that a person may see; those to doors in store if that is all."""
        if user.is_superuser or not user.depots.exists():
            return self
        in_store = Q(depot__isnull=True, door__in=DoorUnit.objects.visible_to(user))
        return self.filter(Q(depot__in=Depot.objects.visible_to(user)) | in_store)

    def round_of(self, day: date) -> Self:
        """What is to be done by the day: planned for it or left from before, and what is open."""
        return self.filter(state__in=STILL_TO_DO, planned_on__lte=day).in_order_of_work()

    def round_at(self, moment: datetime) -> Self:
        """As `round_of`, each visit by the day it is at its depot; queries once for the zones."""
        at_depots = Q(depot__isnull=True, planned_on__lte=moment.astimezone(UTC).date())
        for day, zones in Depot.objects.zones_by_day(moment).items():
            at_depots |= Q(depot__timezone__in=zones, planned_on__lte=day)
        return self.filter(at_depots, state__in=STILL_TO_DO).in_order_of_work()

    def still_to_do(self) -> Self:
        """Planned or open."""
        return self.filter(state__in=STILL_TO_DO)

    def ended_without_reason(self, depot: Depot, since: date) -> Self:
        """Visits of a depot, planned since a day, that ended and of which nobody has said why."""
        told = Q(off_plan_reasons__isnull=False, off_plan_reasons__superseded_at__isnull=True)
        ended = self.filter(state__in=(VisitState.CLOSED, VisitState.NOT_PRESENTED))
        return (
            ended.filter(depot=depot, planned_on__gte=since)
            .exclude(told)
            .with_links()
            .order_by("-planned_on", "-pk")
        )

    def closed_last(self, door: DoorUnit) -> Self:
        """The door's closed visits, the latest first."""
        return self.filter(door=door, state=VisitState.CLOSED).order_by("-closed_at", "-pk")

    def in_order_of_work(self) -> Self:
        """Those already begun first, then by depot, route and truck."""
        return self.order_by(
            "state", "depot__code", "truck__route_kind", "planned_on", "truck__fleet_number", "pk"
        )

    def with_links(self) -> Self:
        """With door, model, truck, depot and person, in the same query."""
        return self.select_related("door__door_model", "truck", "depot", "technician")


class Visit(models.Model):
    """A door visited on its truck; `technician` is who has it in hand at present."""

    door = models.ForeignKey(
        DoorUnit, models.PROTECT, related_name="visits", verbose_name=_("door")
    )
    truck = models.ForeignKey(
        Truck, models.PROTECT, null=True, blank=True, related_name="visits", verbose_name=_("truck")
    )
    depot = models.ForeignKey(
        Depot, models.PROTECT, null=True, blank=True, related_name="visits", verbose_name=_("depot")
    )
    planned_on = models.DateField(_("planned on"))
    technician = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        models.PROTECT,
        null=True,
        blank=True,
        related_name="visits",
        verbose_name=_("technician"),
    )
    state = models.CharField(
        _("state"), max_length=15, choices=VisitState, default=VisitState.PLANNED
    )
    started_at = models.DateTimeField(_("started at"), null=True, blank=True)
    closed_at = models.DateTimeField(_("closed at"), null=True, blank=True)
    signed_by = models.CharField(_("signed by"), max_length=100, blank=True)
    reason = models.CharField(_("why the truck did not come"), max_length=200, blank=True)
    entered_at = models.DateTimeField(_("entered at"))
    entered_by = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        models.PROTECT,
        null=True,
        blank=True,
        related_name="+",
        verbose_name=_("entered by"),
    )

    objects = VisitQuerySet.as_manager()

    class Meta:
        ordering = ("planned_on", "pk")
        verbose_name = _("visit")
        verbose_name_plural = _("visits")
        constraints = (
            models.UniqueConstraint(
                fields=("door",), condition=Q(state=VisitState.OPEN), name="visit_one_open_on_door"
            ),
            models.UniqueConstraint(
                fields=("door", "planned_on"),
                condition=Q(state=VisitState.PLANNED),
                name="visit_planned_once_a_day",
            ),
            models.CheckConstraint(
                condition=~Q(state=VisitState.CLOSED)
                | Q(closed_at__isnull=False) & ~Q(signed_by=""),
                name="visit_closed_is_signed",
            ),
            models.CheckConstraint(
                condition=~Q(state__in=(VisitState.OPEN, VisitState.CLOSED))
                | Q(started_at__isnull=False),
                name="visit_open_has_started",
            ),
            models.CheckConstraint(
                condition=Q(closed_at__isnull=True) | Q(closed_at__gte=F("started_at")),
                name="visit_ends_after_start",
            ),
            models.CheckConstraint(
                condition=~Q(state=VisitState.NOT_PRESENTED) | ~Q(reason=""),
                name="visit_not_presented_says_why",
            ),
            models.CheckConstraint(
                condition=~Q(state=VisitState.DROPPED) | ~Q(reason=""),
                name="visit_dropped_says_why",
            ),
        )
        indexes = (models.Index(fields=("state", "planned_on"), name="visit_round"),)

    def __str__(self) -> str:
        return f"{self.truck or self.door} · {self.planned_on}"


class JobKind(models.TextChoices):
    """What a job of a visit is about."""

    TASK = "task", _("preventive task")
    FAULT = "fault", _("fault")
    FOLLOW_UP = "follow_up", _("follow-up")
    DEFECT = "defect", _("driver's report")


class JobOutcome(models.TextChoices):
    """What became of a job."""

    DONE = "done", _("done")
    NOT_DONE = "not_done", _("not done")


def _one_target(kind: str, column: str) -> Q:
    """The job's own kind of target is named, and no other."""
    columns = ("task", "fault", "follow_up", "defect_report")
    condition = Q(kind=kind)
    for each in columns:
        condition &= Q((f"{each}__isnull", each != column))
    return condition


class VisitJob(models.Model):
    """One job of a visit: a preventive task, a fault, a follow-up or a driver's report."""

    visit = models.ForeignKey(Visit, models.PROTECT, related_name="jobs", verbose_name=_("visit"))
    kind = models.CharField(_("kind"), max_length=10, choices=JobKind)
    task = models.ForeignKey(
        MaintenanceTask,
        models.PROTECT,
        null=True,
        blank=True,
        related_name="+",
        verbose_name=_("task"),
    )
    fault = models.ForeignKey(
        Fault, models.PROTECT, null=True, blank=True, related_name="jobs", verbose_name=_("fault")
    )
    follow_up = models.ForeignKey(
        FollowUp,
        models.PROTECT,
        null=True,
        blank=True,
        related_name="jobs",
        verbose_name=_("follow-up"),
    )
    defect_report = models.ForeignKey(
        DefectReport,
        models.PROTECT,
        null=True,
        blank=True,
        related_name="jobs",
        verbose_name=_("driver's report"),
    )
    outcome = models.CharField(_("outcome"), max_length=10, choices=JobOutcome, blank=True)
    reason = models.CharField(_("why it was not done"), max_length=200, blank=True)
    done_at = models.DateTimeField(_("done at"), null=True, blank=True)
    task_done = models.ForeignKey(
        TaskDone,
        models.PROTECT,
        null=True,
        blank=True,
        related_name="+",
        verbose_name=_("task done"),
    )

    class Meta:
        ordering = ("visit", "pk")
        verbose_name = _("job")
        verbose_name_plural = _("jobs")
        constraints = (
            models.CheckConstraint(
                condition=_one_target(JobKind.TASK, "task")
                | _one_target(JobKind.FAULT, "fault")
                | _one_target(JobKind.FOLLOW_UP, "follow_up")
                | _one_target(JobKind.DEFECT, "defect_report"),
                name="visit_job_has_its_one_target",
            ),
            models.CheckConstraint(
                condition=~Q(outcome=JobOutcome.NOT_DONE) | ~Q(reason=""),
                name="visit_job_not_done_says_why",
            ),
            models.CheckConstraint(
                condition=~Q(outcome=JobOutcome.DONE) | Q(done_at__isnull=False),
                name="visit_job_done_has_its_moment",
            ),
            models.UniqueConstraint(fields=("visit", "task"), name="visit_task_once"),
            models.UniqueConstraint(fields=("visit", "fault"), name="visit_fault_once"),
            models.UniqueConstraint(fields=("visit", "follow_up"), name="visit_follow_up_once"),
            models.UniqueConstraint(fields=("visit", "defect_report"), name="visit_defect_once"),
        )

    def __str__(self) -> str:
        return str(self.task or self.follow_up or self.fault or self.defect_report)


class VisitHandover(models.Model):
    """An open visit passed from one person to the next, with a word on where it stands."""

    visit = models.ForeignKey(
        Visit, models.PROTECT, related_name="handovers", verbose_name=_("visit")
    )
    from_person = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        models.PROTECT,
        null=True,
        blank=True,
        related_name="+",
        verbose_name=_("from"),
    )
    to_person = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, related_name="+", verbose_name=_("to")
    )
    note = models.CharField(_("where it stands"), max_length=500, blank=True)
    handed_at = models.DateTimeField(_("handed over at"))

    class Meta:
        ordering = ("visit", "handed_at", "pk")
        verbose_name = _("handover")
        verbose_name_plural = _("handovers")
        constraints = (
            models.CheckConstraint(
                condition=Q(from_person__isnull=True) | ~Q(from_person=F("to_person")),
                name="visit_handover_to_another",
            ),
        )

    def __str__(self) -> str:
        return f"{self.visit} · {self.to_person}"
