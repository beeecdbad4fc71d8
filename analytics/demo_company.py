"""What the demo's people entered beside the record: all of it invented, none of it measured.

Prices of an hour, minutes of visits, outside invoices, what is announced, a check of doors, a truck
laid up, drivers' reports, a hold and a follow-up.
"""

from __future__ import annotations

from datetime import datetime, timedelta
from decimal import Decimal
from itertools import groupby

from django.db import transaction
from django.utils.timezone import localdate
from django.utils.translation import gettext as _

from fleetdoors.models import Depot, DoorUnit, MaintenanceTask, Mounting, Role, Truck, User
from fleetdoors.services.truck_stays import StayRefusedError, lay_up
from inspections.models import (
    AnnouncedKind,
    DefectState,
    HoldReason,
    JobKind,
    JobOutcome,
    TaskDone,
    Visit,
    VisitJob,
    VisitMinutes,
    VisitState,
)
from inspections.services.announced_changes import Announcement, announce
from inspections.services.defects import report_defect, take_step
from inspections.services.follow_ups import open_follow_up
from inspections.services.holds import place_hold
from inspections.services.labour import set_rate
from inspections.services.one_off_checks import Finding, open_check, record_looks
from inspections.services.outside_invoices import Invoiced, enter_invoice, reverse_invoice

HOURS_COST = ("68.00", "61.50", "74.00")
VISITS_SINCE = timedelta(days=90)
INVOICES = (
    # Days ago, amount, number, what for, whether it was taken back.
    (171, "1180.00", "TT-2204", "Curtain of the door straightened after a knock", False),
    (128, "640.00", "TT-2261", "Track welded at the lower end", False),
    (83, "415.50", "TT-2318", "Called out at night: door stuck open", False),
    (47, "980.00", "TT-2377", "Frame of the door set square", True),
    (19, "725.00", "TT-2402", "Frame of the door set square", False),
)
REPORTS = (
    # Hours ago, complaint, words, whether somebody has looked at it.
    (3, "S5", "Stops halfway, goes on when I press again.", False),
    (21, "S11", "Grinding noise at the top on the left.", False),
    (44, "S9", "Light for an open door stays on although it is shut.", True),
)


@transaction.atomic
def keep_company(*, now: datetime) -> None:
    """Enter all of it, by the demo's people; they have to be there."""
    depots = list(Depot.objects.order_by("code"))
    doors = list(
        DoorUnit.objects.in_service(as_of=now.date())
        .filter(mountings__removed_on__isnull=True, mountings__isnull=False)
        .select_related("door_model")
        .order_by("serial")
    )
    people = {user.role: user for user in User.objects.all()}
    planner, technician = people[Role.PLANNER], people[Role.TECHNICIAN]
    for depot, price in zip(depots, HOURS_COST, strict=False):
        set_rate(
            depot=depot,
            from_on=(now - timedelta(days=540)).date(),
            per_hour=Decimal(price),
            currency="USD",
            entered_at=now - timedelta(days=540),
            entered_by=planner,
        )
    _past_visits(technician, now)
    _invoices(doors, planner, now)
    _announcement(depots[-1], planner, now)
    _one_off_check(doors, technician, now)
    _lay_up(now)
    _reports(doors[60:], technician, now)
    _hold_and_follow_up(doors[100], doors[130], technician, now)


def _past_visits(technician: User, now: datetime) -> None:
    """A closed visit, with its minutes, for each door and day on which a technician did tasks."""
    rows = (
        TaskDone.objects.filter(done_at__gte=now - VISITS_SINCE, done_at__lt=now)
        .exclude(done_by="driver")
        .select_related("task")
        .prefetch_related("task__contains")
        .order_by("door_id", "done_at", "task_id")
    )
    stays = Mounting.objects.open().select_related("truck__depot")
    trucks = {stay.door_id: stay.truck for stay in stays}
    visits, minutes, jobs = [], [], []
    for (door, done_at), group in groupby(rows, key=lambda row: (row.door_id, row.done_at)):
        done = list(group)
        took = _minutes(door, done, done_at)
        truck = trucks.get(door)
        depot = truck.depot if truck else None
        visit = Visit(
            door_id=door,
            truck=truck,
            depot=depot,
            planned_on=localdate(done_at, depot.zone) if depot else done_at.date(),
            technician=technician,
            state=VisitState.CLOSED,
            started_at=done_at - timedelta(minutes=took),
            closed_at=done_at,
            signed_by=done[0].done_by or "tech 1",
            entered_at=done_at,
            entered_by=technician,
        )
        visits.append(visit)
        minutes.append(
            VisitMinutes(visit=visit, minutes=took, entered_at=done_at, entered_by=technician)
        )
        jobs += _jobs(visit, done, done_at)
    Visit.objects.bulk_create(visits, batch_size=500)
    VisitMinutes.objects.bulk_create(minutes, batch_size=500)
    VisitJob.objects.bulk_create(jobs, batch_size=500)


def _minutes(door: int, done: list[TaskDone], done_at: datetime) -> int:
    """From a tenth less to a third more than the catalogue says, the same at every start."""
    inside = {each.pk for row in done for each in row.task.contains.all()}
    planned = sum(row.task.minutes or 0 for row in done if row.task_id not in inside)
    return max(round(planned * (0.9 + (door * 7 + done_at.toordinal()) % 45 / 100)), 5)


def _jobs(visit: Visit, done: list[TaskDone], done_at: datetime) -> list[VisitJob]:
    """The visit's jobs, each task once."""
    return [
        VisitJob(
            visit=visit,
            kind=JobKind.TASK,
            task=row.task,
            outcome=JobOutcome.DONE,
            done_at=done_at,
            task_done=row,
        )
        for row in {row.task_id: row for row in done}.values()
    ]


def _invoices(doors: list[DoorUnit], planner: User, now: datetime) -> None:
    for place, (days, amount, number, what_for, is_taken_back) in enumerate(INVOICES):
        at = now - timedelta(days=days)
        invoice = enter_invoice(
            said=Invoiced(
                supplier="Teasel Body and Frame (invented)",
                number=number,
                invoiced_on=at.date(),
                amount=Decimal(amount),
                currency="USD",
                # The one taken back is written again with the right sum, for the same door.
                door=doors[min(place, 3) * 23],
                what_for=what_for,
            ),
            today=at.date(),
            entered_at=at,
            entered_by=planner,
        )
        if is_taken_back:
            reverse_invoice(
                invoice=invoice,
                reason=_("the sum was wrong; they write it again"),
                entered_at=at + timedelta(days=9),
                entered_by=planner,
            )


def _announcement(depot: Depot, planner: User, now: datetime) -> None:
    """A new route from the next quarter on."""
    today = now.date()
    month = (today.month - 1) // 3 * 3 + 4
    first = today.replace(year=today.year + (month > 12), month=(month - 1) % 12 + 1, day=1)
    announce(
        said=Announcement(
            kind=AnnouncedKind.USE,
            from_on=first,
            depot=depot,
            factor=1.2,
            note=_("Dispatch: a second parcel route each day. Invented for the demo."),
        ),
        entered_at=now - timedelta(days=6),
        entered_by=planner,
    )


def _one_off_check(doors: list[DoorUnit], technician: User, now: datetime) -> None:
    """Half of the doors of one model have been looked at, and one was not as it should be."""
    model = doors[0].door_model
    asked = [door for door in doors if door.door_model_id == model.pk]
    check = open_check(
        title=_("Screws of the motor bracket"),
        what_to_look_at=_("Are all four there and tight? Invented for the demo."),
        door_model=model,
        part=None,
        opened_at=now - timedelta(days=24),
        opened_by=technician,
    )
    at = now - timedelta(days=8)
    looked = asked[: max(len(asked) // 2, 1)]
    for which, found in (
        (looked[1:], Finding(is_as_it_should_be=True, note="", looked_by="tech 2")),
        (looked[:1], Finding(False, _("one was loose, tightened"), "tech 1")),
    ):
        record_looks(
            check=check, doors=which, found=found, looked_at=at, entered_at=at,
            entered_by=technician,
        )  # fmt: skip


def _lay_up(now: datetime) -> None:
    """One truck is away at a body shop; one that is laid up already is passed over."""
    for truck in Truck.objects.order_by("-fleet_number")[:5]:
        try:
            lay_up(
                truck=truck,
                from_on=(now - timedelta(days=4)).date(),
                until_on=(now + timedelta(days=17)).date(),
                reason=_("at the body shop. Invented for the demo."),
            )
        except StayRefusedError:
            continue
        return


def _reports(doors: list[DoorUnit], technician: User, now: datetime) -> None:
    for door, (hours, complaint, words, is_seen) in zip(doors[::9], REPORTS, strict=False):
        at = now - timedelta(hours=hours)
        report = report_defect(
            door=door, complaint=complaint, words=words, reporter=_("driver of the demo"),
            reported_at=at, entered_at=at,
        )  # fmt: skip
        if is_seen:
            later = at + timedelta(hours=5)
            take_step(
                report=report, kind=DefectState.ASSESSED, taken_at=later, name="tech 2",
                entered_at=later, entered_by=technician,
            )  # fmt: skip


def _hold_and_follow_up(held: DoorUnit, watched: DoorUnit, technician: User, now: datetime) -> None:
    at = now - timedelta(hours=20)
    place_hold(
        door=held,
        because=HoldReason.REVERSE,
        detail=_("Did not go back from the block at the monthly look. Invented for the demo."),
        placed_at=at,
        entered_at=at,
        placed_by=technician,
    )
    open_follow_up(
        door=watched,
        task=MaintenanceTask.objects.get(code="BAL"),
        because=_("The door sinks slowly from half height. Invented for the demo."),
        opened_at=now - timedelta(days=3),
        entered_at=now - timedelta(days=3),
        entered_by=technician,
    )
