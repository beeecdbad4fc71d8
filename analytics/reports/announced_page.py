"""What was announced, what of it has come, and what it makes of the need for parts."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from django.db.models import Q
from django.urls import reverse
from django.utils.translation import gettext as _

from analytics.assessment.announced import Place, came_of_each
from analytics.datasets.announced import EVERY
from analytics.demand_reason import announced_pieces
from analytics.models import Computation, PartOutlook
from analytics.reports.announced_preview import more_words
from analytics.reports.announced_words import (
    LEAST_PIECES,
    kinds_words,
    signed,
    state_words,
    what_words,
    when_words,
)
from analytics.reports.part_words import needed_words
from fleetdoors.models import Mounting, User
from fleetdoors.templatetags.units import moment_at
from inspections.models import AnnouncedChange, AnnouncedKind

MOST_ROWS = 20
ENDED_SHOWN = 30


@dataclass(frozen=True)
class Line:
    """One announced change as the page shows it; `ended`: who took it back, when and why."""

    what: str
    depot: str
    when: str
    state: str
    note: str
    told: str
    ended: str
    cancel_url: str


@dataclass(frozen=True)
class Shifted:
    """A part at a depot that announced changes concern."""

    url: str
    part: str
    depot: str
    needed: str
    announced: str
    kinds: str


@dataclass(frozen=True)
class AnnouncedPage:
    """What stands, what was cancelled of late, and the parts concerned."""

    standing: list[Line]
    cancelled: list[Line]
    shifted: list[Shifted]
    more: str
    horizon_days: int


def announced_page(
    user: User,
    depot_ids: tuple[int, ...] | None,
    run: Computation | None,
    *,
    today: date,
) -> AnnouncedPage:
    """Changes of the depots in sight; queries a constant number of times."""
    rows = AnnouncedChange.objects.visible_to(user).with_links()
    standing = list(rows.standing())
    ended = rows.filter(cancelled_at__isnull=False).order_by("-cancelled_at")[:ENDED_SHOWN]
    came = doors_that_came(standing)
    moved = _moved_most(run, depot_ids)
    return AnnouncedPage(
        standing=[_line(row, came.get(row.pk, 0), depot_ids, today) for row in standing],
        cancelled=[_line(row, 0, depot_ids, today) for row in ended],
        shifted=[_shifted(row) for row in moved[:MOST_ROWS]],
        more=more_words(len(moved) - MOST_ROWS),
        horizon_days=_horizon(run),
    )


def _line(row: AnnouncedChange, came: int, depot_ids: tuple[int, ...] | None, today: date) -> Line:
    told = _("%(person)s, %(moment)s") % {
        "person": row.entered_by or _("unknown"),
        "moment": moment_at(row.entered_at, row.depot),
    }
    ended = ""
    if row.cancelled_at:
        ended = _("%(person)s, %(moment)s: %(why)s") % {
            "person": row.cancelled_by or _("unknown"),
            "moment": moment_at(row.cancelled_at, row.depot),
            "why": row.cancelled_because,
        }
    may_cancel = row.is_standing and (row.depot_id is not None or depot_ids is None)
    return Line(
        what=what_words(row),
        depot=str(row.depot or _("every depot")),
        when=when_words(row),
        state=state_words(row, came, today),
        note=row.note,
        told=told,
        ended=ended,
        cancel_url=reverse("announced-cancel", args=[row.pk]) if may_cancel else "",
    )


def doors_that_came(rows: Sequence[AnnouncedChange]) -> dict[int, int]:
    """Doors on record of each announcement of trucks, by its key; queries once."""
    trucks = [row for row in rows if row.kind == AnnouncedKind.TRUCKS]
    if not trucks:
        return {}
    since = min(row.entered_at for row in trucks).date()
    mounted = Mounting.objects.open().filter(
        truck__depot__in={row.depot_id for row in trucks}, door__record_from__gte=since
    )
    came: dict[Place, list[float]] = {}
    for depot, model, begun in mounted.values_list(
        "truck__depot", "door__door_model", "door__record_from"
    ):
        came.setdefault((depot, model), []).append(float(begun.toordinal()) if begun else 0.0)
    counts = came_of_each(
        [
            (
                (row.depot_id or EVERY, row.door_model_id or EVERY),
                float(_told_on(row).toordinal()),
                row.doors or 0,
            )
            for row in trucks
        ],
        came,
    )
    return {row.pk: count for row, count in zip(trucks, counts, strict=True)}


def _told_on(row: AnnouncedChange) -> date:
    zone = row.depot.zone if row.depot else None
    return row.entered_at.astimezone(zone).date()


def _horizon(run: Computation | None) -> int:
    first = PartOutlook.objects.filter(generation=run).values_list("horizon_days", flat=True)
    return first.first() or 0


def _moved_most(run: Computation | None, depot_ids: tuple[int, ...] | None) -> list[PartOutlook]:
    """Parts whose need announced changes move, those moved most first; queries once."""
    concerned = Q(pk__in=())
    for kind in AnnouncedKind.values:
        concerned |= Q(explanation__has_key=f"announced_{kind}")
    rows = PartOutlook.objects.filter(concerned, generation=run).at_depots(depot_ids)
    moved = [row for row in rows.with_links() if _moved(row) >= LEAST_PIECES]
    return sorted(moved, key=lambda row: (-_moved(row), row.part.part_number, row.depot.code))


def _shifted(row: PartOutlook) -> Shifted:
    return Shifted(
        url=_part_url(row),
        part=str(row.part),
        depot=str(row.depot),
        needed=needed_words(row),
        announced=signed(announced_pieces(row.explanation) or 0.0),
        kinds=kinds_words(row),
    )


def _moved(row: PartOutlook) -> float:
    names = (f"announced_{kind}" for kind in AnnouncedKind.values)
    return sum(abs(float(row.explanation.get(name) or 0)) for name in names)


def _part_url(row: PartOutlook) -> str:
    return reverse("part-detail", args=[row.part.part_number], query={"depot": row.depot.code})
