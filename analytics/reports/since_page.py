"""What changed since a person last looked, question by question."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from django.db.models import Q, QuerySet
from django.urls import reverse
from django.utils.translation import gettext as _

from analytics.reports.basis import Basis, basis_at
from analytics.reports.part_words import run_out_words
from analytics.reports.scope import depot_ids_of
from analytics.reports.settle_page import waiting
from analytics.reports.since_figures import Figures, figures_of
from analytics.reports.suspicion import question
from fleetdoors.models import Depot, DoorUnit, User
from fleetdoors.templatetags.units import day as full_day
from fleetdoors.templatetags.units import moment
from inspections.models import DefectReport, Fault, LastLook, NightChoice, PlanAcceptance, RoadHold

MOST_LINES = 10
# Of whoever has never said so, so much is told.
FIRST_LOOK = timedelta(days=7)


@dataclass(frozen=True)
class News:
    """One thing that changed, and where it stands in full."""

    words: str
    url: str


@dataclass(frozen=True)
class Section:
    """One question: what is new of it, how much more there is, and where all of it stands."""

    key: str
    title: str
    lines: list[News]
    more: int
    url: str


@dataclass(frozen=True)
class SincePage:
    """`is_first`: the person never said that anything was seen; `mark` stands for the figures."""

    since: datetime
    is_first: bool
    sections: list[Section]
    mark: str

    @property
    def is_empty(self) -> bool:
        """Whether nothing changed."""
        return not self.sections


def since_page(person: User, *, now: datetime) -> SincePage:
    """Everything new to the person; a constant number of queries."""
    look = LastLook.objects.filter(person=person).first()
    since = look.looked_at if look else now - FIRST_LOOK
    depot_ids = depot_ids_of(person)
    basis = basis_at(depot_ids, now=now)
    figures = figures_of(basis, depot_ids)
    found = [
        _late(figures, look, since),
        _faults(person, since),
        _reports(person, since),
        _held(person, since),
        _let_go(person, since),
        _plans(person, since),
        _nights(person, since),
        _readings(depot_ids, basis, since),
        _run_outs(figures, look, basis),
    ]
    sections = [each for each in found if each.lines]
    return SincePage(since, look is None, sections, figures.mark)


def _section(
    key: str, title: str, url: str, rows: QuerySet[Any], told: Callable[[Any], News]
) -> Section:
    """The first rows in words, and how many more there are; queries twice."""
    first = list(rows[:MOST_LINES])
    more = rows.count() - len(first) if len(first) == MOST_LINES else 0
    return Section(key, title, [told(row) for row in first], more, url)


def _late(figures: Figures, look: LastLook | None, since: datetime) -> Section:
    new = figures.newly_late(look, since, most=MOST_LINES)
    lines = [
        News(
            _("%(truck)s: %(task)s, due %(day)s")
            % {
                "truck": row.truck or row.door,
                "task": row.task,
                "day": full_day(row.due_on) if row.due_on else "–",
            },
            reverse("due-why", args=[row.door.serial, row.task.code]),
        )
        for row in new.first
    ]
    url = f"{reverse('due-list')}?state=late"
    return Section("late", _("Tasks that became late"), lines, new.number - len(lines), url)


def _faults(person: User, since: datetime) -> Section:
    rows = Fault.objects.filter(
        corrects__isnull=True, entered_at__gt=since, door__in=DoorUnit.objects.visible_to(person)
    ).select_related("door", "component")

    def told(row: Fault) -> News:
        what = row.component or row.get_complaint_display() or _("cause not known yet")
        words = _("Door %(door)s: %(what)s, found %(moment)s") % {
            "door": row.door, "what": what, "moment": moment(row.found_at),
        }  # fmt: skip
        return News(words, reverse("fault-detail", args=[row.pk]))

    return _section("faults", _("New faults"), "", rows.newest_first(), told)


def _reports(person: User, since: datetime) -> Section:
    rows = DefectReport.objects.visible_to(person).filter(entered_at__gt=since)

    def told(row: DefectReport) -> News:
        words = _("%(truck)s: %(what)s, %(who)s, now “%(state)s”") % {
            "truck": row.truck or row.door,
            "what": row.get_complaint_display(),
            "who": row.reporter,
            "state": row.get_state_display(),
        }
        return News(words, reverse("defect-detail", args=[row.pk]))

    ordered = rows.select_related("truck", "door").order_by("-reported_at", "-pk")
    return _section("reports", _("New drivers' reports"), reverse("defect-list"), ordered, told)


def _held(person: User, since: datetime) -> Section:
    rows = RoadHold.objects.visible_to(person).filter(entered_at__gt=since)

    def told(row: RoadHold) -> News:
        words = f"{row.truck or row.door}: {row.get_because_display()}"
        return News(words, reverse("door-detail", args=[row.door.serial]))

    ordered = rows.select_related("truck", "door").order_by("-placed_at", "-pk")
    return _section("held", _("Trucks and doors held"), reverse("defect-list"), ordered, told)


def _let_go(person: User, since: datetime) -> Section:
    rows = RoadHold.objects.visible_to(person).filter(end_entered_at__gt=since)

    def told(row: RoadHold) -> News:
        words = _("%(truck)s: %(done)s, signed by %(who)s") % {
            "truck": row.truck or row.door,
            "done": row.what_was_done or row.get_because_display(),
            "who": row.signed_by,
        }
        return News(words, reverse("door-detail", args=[row.door.serial]))

    ordered = rows.select_related("truck", "door").order_by("-lifted_at", "-pk")
    return _section("let_go", _("Let go again"), reverse("defect-list"), ordered, told)


def _plans(person: User, since: datetime) -> Section:
    depots = Depot.objects.visible_to(person)
    changed = Q(accepted_at__gt=since) | Q(undone_at__gt=since)
    rows = PlanAcceptance.objects.filter(changed, depot__in=depots)

    def told(row: PlanAcceptance) -> News:
        said = {
            "depot": row.depot,
            "first": full_day(row.first_on),
            "last": full_day(row.last_on),
            "who": row.undone_by or row.accepted_by,
        }
        words = (
            _("%(depot)s, %(first)s to %(last)s: taken back by %(who)s")
            if row.undone_at
            else _("%(depot)s, %(first)s to %(last)s: accepted by %(who)s")
        )
        return News(words % said, f"{reverse('schedule')}?depot={row.depot.code}")

    ordered = rows.select_related("depot", "accepted_by", "undone_by")
    return _section(
        "plans", _("Plans accepted or taken back"), reverse("schedule"),
        ordered.order_by("-accepted_at", "-pk"), told,
    )  # fmt: skip


def _nights(person: User, since: datetime) -> Section:
    doors = DoorUnit.objects.visible_to(person)
    rows = NightChoice.objects.standing().filter(chosen_at__gt=since, door__in=doors)

    def told(row: NightChoice) -> News:
        words = _("Door %(door)s: in the night of %(day)s") % {
            "door": row.door, "day": full_day(row.chosen_on),
        }  # fmt: skip
        return News(words, reverse("door-detail", args=[row.door.serial]))

    ordered = rows.select_related("door").order_by("-chosen_at", "-pk")
    return _section("nights", _("Visits moved by hand"), reverse("schedule"), ordered, told)


def _readings(depot_ids: tuple[int, ...] | None, basis: Basis, since: datetime) -> Section:
    rows = waiting(depot_ids, basis).filter(reading__entered_at__gt=since)

    def told(row: Any) -> News:
        words = _("Door %(door)s showed %(value)s. %(why)s") % {
            "door": row.door,
            "value": row.reading.counter_value,
            "why": question(row),
        }
        return News(words, reverse("readings-to-settle"))

    url = reverse("readings-to-settle")
    return _section("readings", _("Readings held, to be settled"), url, rows, told)


def _run_outs(figures: Figures, look: LastLook | None, basis: Basis) -> Section:
    rows: Iterable[Any] = figures.new_run_outs(look)
    lines = [
        News(
            _("%(part)s at %(depot)s: %(out)s")
            % {
                "part": row.part.name,
                "depot": row.depot,
                "out": run_out_words(row, basis.today),
            },
            reverse("part-detail", args=[row.part.part_number]),
        )
        for row in rows
    ]
    shown = lines[:MOST_LINES]
    title = _("Parts that will run out within two weeks, new")
    return Section("run_outs", title, shown, len(lines) - len(shown), reverse("part-list"))
