"""The first hour with an empty database: what is done, what is next, and where."""

from __future__ import annotations

from dataclasses import dataclass

from django.db.models import Exists, OuterRef
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from analytics.models import DueTask
from fleetdoors.models import Depot, DoorModel, DoorUnit, MaintenanceTask, Role, User
from fleetdoors.templatetags.units import number
from inspections.models import CounterReading


@dataclass(frozen=True)
class Way:
    """A page where a step is taken."""

    label: str
    url: str


@dataclass(frozen=True)
class Step:
    """One step; `is_done` = None where the record cannot tell."""

    title: str
    why: str
    found: str
    is_done: bool | None
    ways: tuple[Way, ...]


@dataclass(frozen=True)
class FirstHour:
    """The steps in their order."""

    steps: tuple[Step, ...]

    @property
    def following(self) -> Step | None:
        """The first step that is not done."""
        return next((step for step in self.steps if step.is_done is False), None)

    @property
    def done(self) -> int:
        """How many steps of those that can be told are done."""
        return sum(step.is_done is True for step in self.steps)

    @property
    def told(self) -> int:
        """How many steps the record can tell."""
        return sum(step.is_done is not None for step in self.steps)


def first_hour(user: User) -> FirstHour:
    """What a new database still lacks; queries the database a few times, whatever its size."""
    depot_rows, model_rows = Depot.objects.count(), DoorModel.objects.count()
    is_read = Exists(CounterReading.objects.accepted().filter(door=OuterRef("pk")))
    in_use = DoorUnit.objects.filter(retired_on=None)
    doors, read = in_use.count(), in_use.filter(is_read).count()
    depot = Depot.objects.visible_to(user).first()
    return FirstHour(
        (
            _fleet(depot_rows, model_rows, doors),
            _limits(model_rows, user),
            _people(user),
            _labels(),
            _readings(doors, read, depot),
            _figures(),
        )
    )


def _fleet(depots: int, models: int, doors: int) -> Step:
    found = _("Depots: %(depots)s, door models: %(models)s, doors: %(doors)s") % {
        "depots": number(depots),
        "models": number(models),
        "doors": number(doors),
    }
    return Step(
        _("Put depots, trucks and doors on record"),
        _("Type a depot and its trucks on one page, or fill the empty tables and bring them in."),
        found,
        doors > 0,
        (
            Way(_("Type the first trucks"), reverse("first-fleet")),
            Way(_("Empty tables to fill in"), reverse("fleet-template")),
            Way(_("Bring in a fleet"), reverse("fleet-import")),
        ),
    )


def _limits(models: int, user: User) -> Step:
    ways = [Way(_("Tasks and intervals"), reverse("task-list"))]
    if user.has_any_role(Role.ADMINISTRATOR):
        ways.insert(0, Way(_("Door models"), reverse("admin:fleetdoors_doormodel_changelist")))
    return Step(
        _("Check limits and intervals against the makers' papers"),
        _(
            "Limits and intervals begin at typical values. What the door maker and the vehicle "
            "maker write comes first."
        ),
        _("Door models: %(models)s, tasks: %(tasks)s")
        % {"models": number(models), "tasks": number(MaintenanceTask.objects.count())},
        None,
        tuple(ways),
    )


def _people(user: User) -> Step:
    people = User.objects.filter(is_active=True).count()
    ways: tuple[Way, ...] = ()
    if user.has_any_role(Role.ADMINISTRATOR):
        ways = (Way(_("Add a person"), reverse("admin:fleetdoors_user_add")),)
    return Step(
        _("Let the others in"),
        _("A planner, technicians, a buyer: each sees the day's own questions. Drivers need none."),
        ngettext("%(n)s person may sign in", "%(n)s people may sign in", people)
        % {"n": number(people)},
        people > 1,
        ways,
    )


def _labels() -> Step:
    return Step(
        _("Print the labels, and put one on each door"),
        _("A phone opens the door's page by its label; a driver reports a defect by it."),
        "",
        None,
        (Way(_("Labels for doors"), reverse("labels")),),
    )


def _readings(doors: int, read: int, depot: Depot | None) -> Step:
    grid = (
        (Way(_("Readings from paper"), reverse("reading-grid", args=[depot.code])),)
        if depot
        else ()
    )
    return Step(
        _("Read every counter, and once more a few days later"),
        _("Two readings tell how many cycles a door makes a day; until then similar doors tell."),
        _("%(read)s of %(doors)s doors have been read")
        % {"read": number(read), "doors": number(doors)},
        doors > 0 and read == doors,
        (Way(_("Visits on a phone"), reverse("round")), *grid),
    )


def _figures() -> Step:
    return Step(
        _("See what is due"),
        _("Figures are worked out after each entry; each date says what it rests on."),
        "",
        DueTask.objects.current().exists(),
        (
            Way(_("What is due"), reverse("due-list")),
            Way(_("Propose a week"), reverse("schedule")),
        ),
    )
