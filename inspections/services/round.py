"""What a technician has on the phone: which doors, which pages, and what is at hand at one."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _

from fleetdoors.models import Depot, DoorUnit, Mounting, User
from fleetdoors.templatetags.units import as_typed, unit_shown
from inspections.limits import Limits, limits_for
from inspections.models import Attachment, DoorLabel, Fault, TaskDone, Visit
from inspections.quantities import QUANTITIES
from inspections.services.inspecting import InspectionFacts, circumstances_of, figures_of
from inspections.services.round_marks import door_marks

# What a phone can hold and a thumb can scroll; the jump box leads to every other door.
MOST_DOORS = 60
LAST_JOBS = 3
# A larger document would fill the phone of somebody who needs it once a year.
MOST_DOCUMENT_BYTES = 8 * 2**20
DOOR_PAGES = (
    "round-door", "round-visit", "round-trace", "inspection-new", "hold-new",
)  # fmt: skip
OWN_PAGES = ("round-shop", "round", "round-doors", "round-people", "round-waiting")
# What the server knows of a visit; without a signal the phone's own page stands in for each.
VISIT_PAGES = (
    "visit-detail", "visit-check", "visit-close", "visit-hand-over", "visit-absent",
)  # fmt: skip


@dataclass(frozen=True)
class Round:
    """The visits of the day and the doors of the depots; `more_doors` are not on the phone."""

    day: date
    visits: Sequence[Visit]
    mountings: Sequence[Mounting]
    more_doors: int


@dataclass(frozen=True)
class KeptPage:
    """A page that a phone keeps; another mark than before means that it has changed."""

    url: str
    mark: str


@dataclass(frozen=True)
class KeptRound:
    """The pages, and where the addresses of the labels on the doors lead."""

    pages: Sequence[KeptPage]
    doors_by_label: Mapping[str, str]


@dataclass(frozen=True)
class PastJob:
    """Something that was done or found at a door."""

    happened_at: datetime
    words: str


@dataclass(frozen=True)
class LimitLine:
    """The limits of one quantity on a door, in words."""

    name: str
    words: str
    source: str


def round_of(*, person: User, as_of: datetime) -> Round:
    """The person's day by the clock of the depot; queries a few times, however many doors."""
    depots = Depot.objects.visible_to(person)
    first = depots.first()
    day = timezone.localdate(as_of, first.zone if first else None)
    visits = list(Visit.objects.visible_to(person).round_at(as_of).with_links())
    mounted = Mounting.objects.open().filter(truck__depot__in=depots, door__retired_on=None)
    on_round = mounted.exclude(door_id__in=[visit.door_id for visit in visits])
    listed = on_round.select_related("door__door_model", "truck__depot").order_by(
        "truck__depot__code", "truck__fleet_number"
    )
    room = max(0, MOST_DOORS - len(visits))
    return Round(day, visits, list(listed[:room]), max(0, on_round.count() - room))


def pages_of_round(*, person: User, as_of: datetime) -> KeptRound:
    """What the person's phone keeps: the day, and the pages of each of its doors."""
    whole = round_of(person=person, as_of=as_of)
    doors = [visit.door for visit in whole.visits] + [each.door for each in whole.mountings]
    # The day's own pages change with anything: they are fetched afresh each time.
    pages = [_page(name, as_of.isoformat()) for name in OWN_PAGES]
    changes = door_marks(doors)
    for door in doors:
        mark = f"{door.revision}·{whole.day}·{changes[door.pk]}"
        pages += [_page(name, mark, door.serial) for name in DOOR_PAGES]
        pages.append(_fault_form(door, mark))
    pages += [_page("document-file", each.sha256, each.pk) for each in documents_of(doors)]
    return KeptRound(pages, _doors_by_label(doors) | _phone_pages_of(whole.visits))


def documents_of(doors: Iterable[DoorUnit]) -> Iterable[Attachment]:
    """The documents of the doors' types that a phone has room for; queries once."""
    models = {door.door_model_id for door in doors}
    return Attachment.objects.filter(
        door_model__in=models, withdrawn_at=None, bytes_count__lte=MOST_DOCUMENT_BYTES
    ).order_by("pk")


def _phone_pages_of(visits: Iterable[Visit]) -> dict[str, str]:
    """Where the addresses of each visit lead without a signal."""
    return {
        reverse(name, args=[visit.pk]): reverse("round-visit", args=[visit.door.serial])
        for visit in visits
        for name in VISIT_PAGES
    }


def _doors_by_label(doors: Iterable[DoorUnit]) -> dict[str, str]:
    """Where the code on each door leads without a signal: to its own page; queries once."""
    labels = DoorLabel.objects.filter(door__in=doors).select_related("door")
    return {
        reverse("door-code", args=[label.code]): reverse("round-door", args=[label.door.serial])
        for label in labels
    }


def _fault_form(door: DoorUnit, mark: str) -> KeptPage:
    """The account of a fault itself, not the question before it: that one leads to the server."""
    return KeptPage(reverse("fault-new", args=[door.serial]) + "?complaint=", mark)


def _page(name: str, mark: str, *key: object) -> KeptPage:
    return KeptPage(reverse(name, args=key), mark)


def last_jobs(door: DoorUnit) -> list[PastJob]:
    """What was done or found here the last three times, the latest first; queries twice."""
    done = TaskDone.objects.in_force().filter(door=door).select_related("task")
    found = Fault.objects.in_force().filter(door=door).select_related("component")
    jobs = [PastJob(each.done_at, str(each.task)) for each in done.order_by("-done_at")[:LAST_JOBS]]
    jobs += [
        PastJob(each.found_at, _fault_in_words(each)) for each in found.newest_first()[:LAST_JOBS]
    ]
    return sorted(jobs, key=lambda job: job.happened_at, reverse=True)[:LAST_JOBS]


def limits_of_door(door: DoorUnit, as_of: datetime) -> list[LimitLine]:
    """The limits that do not hang on other values of the same inspection; queries once."""
    nothing_yet = InspectionFacts(begun_at=as_of, inspector="")
    circumstances = circumstances_of(door, nothing_yet, {})
    figures = figures_of(door)
    return list(
        _known_lines((code, limits_for(code, figures, circumstances)) for code in QUANTITIES)
    )


def _known_lines(limits: Iterable[tuple[str, Limits]]) -> Iterable[LimitLine]:
    for code, known in limits:
        quantity = QUANTITIES[code]
        if known.are_known and not quantity.grades:
            yield LimitLine(str(quantity.name), _in_words(known, quantity.unit), known.source)


def _in_words(limits: Limits, unit: str) -> str:
    """Where a value holds: within the near lines, which lie inside the limits."""
    low = limits.limit_low if limits.near_low is None else limits.near_low
    high = limits.limit_high if limits.near_high is None else limits.near_high
    facts = {
        "low": _figure(low, unit),
        "high": _figure(high, unit),
        "unit": unit_shown(unit),
    }
    if low is not None and high is not None:
        return _("%(low)s to %(high)s %(unit)s") % facts
    if low is not None:
        return _("at least %(low)s %(unit)s") % facts
    return _("at most %(high)s %(unit)s") % facts


def _figure(value: float | None, unit: str) -> str:
    return "" if value is None else as_typed(value, unit).replace("-", "−")


def _fault_in_words(fault: Fault) -> str:
    what = fault.component or fault.get_complaint_display() or _("cause not known yet")
    action = fault.get_action_display()
    return _("Fault: %(what)s") % {"what": what} + (f" · {action}" if action else "")
