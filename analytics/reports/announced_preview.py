"""What an announced change would do to the need for parts, said before it is saved."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from analytics.assessment.outlook import Outlook
from analytics.recompute.outlooks import Ground
from analytics.reports.announced_words import LEAST_PIECES, signed
from analytics.reports.part_words import amount
from fleetdoors.models import Depot, Part
from fleetdoors.templatetags.units import number
from inspections.models import AnnouncedChange

MOST_ROWS = 20


@dataclass(frozen=True)
class Cell:
    """A figure under its heading."""

    label: str
    value: str


@dataclass(frozen=True)
class Preview:
    """What a change would make of the need, before it is saved; `problem`: why nobody can say."""

    sentence: str = ""
    headings: tuple[str, ...] = ()
    rows: tuple[tuple[Cell, ...], ...] = ()
    more: str = ""
    problem: str = ""


def preview_shift(
    ground: Ground, row: AnnouncedChange, depot_ids: tuple[int, ...] | None, horizon_days: int
) -> Preview:
    """Every part at a depot in sight that the change would move, before and after."""
    depots = ground.base.fleet.doors.depots
    pairs = zip(ground.outlooks(), ground.outlooks([row]), strict=True)
    moved = [
        (before, after)
        for before, after in pairs
        if abs(after.mean - before.mean) >= LEAST_PIECES
        and (depot_ids is None or int(depots.ids[after.demand.depot]) in depot_ids)
    ]
    moved.sort(key=lambda pair: -abs(pair[1].mean - pair[0].mean))
    headings = (
        _("Part"),
        _("Depot"),
        _("Needed in %(days)s days now, pieces") % {"days": number(horizon_days)},
        _("Then, pieces"),
        _("Order at, now"),
        _("Order at, then"),
    )
    return Preview(
        sentence=_preview_sentence(moved, horizon_days),
        headings=headings,
        rows=tuple(_row(headings, values) for values in _values(ground, moved[:MOST_ROWS])),
        more=more_words(len(moved) - MOST_ROWS),
    )


def more_words(count: int) -> str:
    """That so many further needs move by less; nothing where all are shown."""
    if count <= 0:
        return ""
    told = ngettext("%(n)s more need moves by less.", "%(n)s more needs move by less.", count)
    return told % {"n": number(count)}


def _row(headings: tuple[str, ...], values: tuple[str, ...]) -> tuple[Cell, ...]:
    return tuple(Cell(label, value) for label, value in zip(headings, values, strict=True))


def _values(ground: Ground, moved: list[tuple[Outlook, Outlook]]) -> list[tuple[str, ...]]:
    """Names and figures of each pair; queries twice."""
    fleet, parts = ground.base.fleet, ground.base.record.parts
    names = Part.objects.in_bulk([int(parts.ids[each.demand.part]) for each, _after in moved])
    depots = Depot.objects.in_bulk()
    return [
        (
            str(names[int(parts.ids[before.demand.part])]),
            str(depots[int(fleet.doors.depots.ids[before.demand.depot])]),
            amount(before.mean),
            f"{amount(after.mean)} ({signed(after.mean - before.mean)})",
            number(before.reorder_point),
            number(after.reorder_point),
        )
        for before, after in moved
    ]


def _preview_sentence(moved: Iterable[tuple[Outlook, Outlook]], horizon_days: int) -> str:
    pairs = list(moved)
    facts = {"n": number(len(pairs)), "days": number(horizon_days)}
    if not pairs:
        return _("No need for a part moves within %(days)s days.") % facts
    total = sum(after.mean - before.mean for before, after in pairs)
    return ngettext(
        "%(n)s need for a part moves: %(pieces)s pieces within %(days)s days.",
        "%(n)s needs for parts move: %(pieces)s pieces in all within %(days)s days.",
        len(pairs),
    ) % {**facts, "pieces": signed(total)}
