"""What lies where at a depot: in each van, lot by lot, and whether kits can be filled."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta

from django.db.models import Sum

from fleetdoors.models import Depot, Part, PartKitLine, TaskKit
from inspections.models import (
    PartReservation,
    PlaceKind,
    StockBalance,
    StockLot,
    StockMovement,
    StockPlace,
)
from inspections.models.stock_place import FOR_WORK

# A lot that ends so soon is said aloud, so that it is used up first.
ENDS_SOON = timedelta(days=60)


@dataclass(frozen=True)
class VanStock:
    """A van and the parts in it; empty where nothing was put there."""

    van: StockPlace
    balances: list[StockBalance]


def vans_of_depot(depot: Depot) -> list[VanStock]:
    """Every van of the depot with what it holds, by name; queries twice."""
    vans = StockPlace.objects.filter(depot=depot, kind=PlaceKind.VAN).select_related("keeper")
    held: dict[int, list[StockBalance]] = {}
    for balance in StockBalance.objects.filter(place__in=vans).exclude(on_hand=0).with_links():
        held.setdefault(balance.place_id, []).append(balance)
    return [VanStock(van, held.get(van.pk, [])) for van in vans.order_by("name", "pk")]


@dataclass(frozen=True)
class LotHere:
    """What should be left of a lot at a place of the depot.

    `rank` is its turn among the lots of its part that may be fitted: 1 goes first. None: past its
    last day, or set aside.
    """

    place: StockPlace
    part: Part
    lot: StockLot
    pieces: int
    rank: int | None
    is_past: bool
    ends_soon: bool


def lots_of_depot(depot: Depot, *, today: date) -> list[LotHere]:
    """Lots with pieces left, by part, in the order in which they are used up; queries thrice."""
    rows = (
        StockMovement.objects.filter(place__depot=depot, lot__isnull=False)
        .order_by()
        .values_list("place", "lot")
        .annotate(left=Sum("quantity"))
        .filter(left__gt=0)
    )
    left = list(rows)
    places = StockPlace.objects.select_related("depot").in_bulk({row[0] for row in left})
    lots = StockLot.objects.select_related("part").in_bulk({row[1] for row in left})
    ordered = sorted(
        ((places[place], lots[lot], pieces) for place, lot, pieces in left),
        key=lambda row: (row[1].part.part_number, _turn(row[1]), row[0].kind, row[0].name),
    )
    return _ranked(ordered, today)


def _turn(lot: StockLot) -> tuple[date, int]:
    """What the ledger takes first: the earliest last day, then the older lot."""
    return (lot.use_by_on or date.max, lot.pk)


def _ranked(ordered: Iterable[tuple[StockPlace, StockLot, int]], today: date) -> list[LotHere]:
    turns: dict[tuple[int, int], int] = {}
    seen: Counter[int] = Counter()
    found = []
    for place, lot, pieces in ordered:
        rank = None
        if place.kind in FOR_WORK and not lot.is_past(today):
            if (lot.part_id, lot.pk) not in turns:
                seen[lot.part_id] += 1
                turns[lot.part_id, lot.pk] = seen[lot.part_id]
            rank = turns[lot.part_id, lot.pk]
        soon = lot.use_by_on is not None and lot.use_by_on <= today + ENDS_SOON
        found.append(
            LotHere(
                place, lot.part, lot, pieces, rank, lot.is_past(today), soon and rank is not None
            )
        )
    return found


def set_aside_at(depot: Depot) -> list[StockBalance]:
    """Pieces that may not be fitted, with and without a lot; queries once."""
    rows = StockBalance.objects.at_depot(depot).filter(place__kind=PlaceKind.SET_ASIDE)
    return list(rows.exclude(on_hand=0).with_links())


@dataclass(frozen=True)
class KitPart:
    """A part of a kit: pieces each time, pieces free on the shelf, and how often they suffice."""

    part: Part
    quantity: int
    free: int

    @property
    def times(self) -> int:
        """How many times the shelf gives it."""
        return max(self.free, 0) // self.quantity


@dataclass(frozen=True)
class KitHere:
    """A kit of a task or of a kind of work, and how often the depot's shelf fills it."""

    label: str
    is_task: bool
    parts: list[KitPart]

    @property
    def times(self) -> int:
        """As often as its scarcest part allows."""
        return min((each.times for each in self.parts), default=0)

    @property
    def scarce(self) -> list[KitPart]:
        """The parts that set the limit."""
        return [each for each in self.parts if each.times == self.times]


def kits_at(depot: Depot, *, today: date) -> list[KitHere]:
    """Kits of tasks, then of kinds of work, as the shelf stands; queries a few times."""
    free = _free_on_shelf(depot, today)
    kits: dict[tuple[bool, str], list[KitPart]] = {}
    tasks = TaskKit.objects.select_related("task", "part").order_by("task__code", "part")
    for line in tasks:
        label = f"{line.task.code}: {line.task}"
        part = KitPart(line.part, line.quantity, free.get(line.part_id, 0))
        kits.setdefault((True, label), []).append(part)
    lines = PartKitLine.objects.select_related("kit", "part").order_by("kit__name", "part")
    for each in lines:
        part = KitPart(each.part, each.quantity, free.get(each.part_id, 0))
        kits.setdefault((False, str(each.kit)), []).append(part)
    return [KitHere(label, is_task, parts) for (is_task, label), parts in kits.items()]


def _free_on_shelf(depot: Depot, today: date) -> dict[int, int]:
    """Pieces by part on the shelf, without those kept for work and those past their last day."""
    shelf = StockMovement.objects.filter(place__depot=depot, place__kind=PlaceKind.SHELF)
    free: Counter[int] = Counter()
    for part, pieces in shelf.order_by().values_list("part").annotate(left=Sum("quantity")):
        free[part] += pieces
    past = shelf.filter(lot__use_by_on__lt=today).order_by().values_list("part", "lot")
    for part, _lot, pieces in past.annotate(left=Sum("quantity")):
        free[part] -= max(pieces, 0)
    kept = PartReservation.objects.standing().filter(depot=depot).order_by().values_list("part")
    for part, pieces in kept.annotate(kept=Sum("quantity")):
        free[part] -= pieces
    return dict(free)
