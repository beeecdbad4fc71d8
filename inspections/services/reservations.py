"""Pieces are kept for a verdict or a planned visit, then used or given free."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from datetime import datetime

from django.db import transaction
from django.db.models import F, Q, QuerySet, Value
from django.db.models.functions import Greatest
from django.utils.translation import gettext as _

from fleetdoors.models import DoorUnit, Part, User
from fleetdoors.services.recomputation import shelves_changed
from fleetdoors.services.whereabouts import present_depot
from inspections.models import Fault, FaultTrace, PartReservation, Visit
from inspections.services.fitting import parts_for
from inspections.services.ledger import StockRefusedError


@transaction.atomic
def keep_for_trace(
    *,
    trace: FaultTrace,
    components: Sequence[str],
    at: datetime,
    by: User | None = None,
) -> list[PartReservation]:
    """Keep one piece for each component that a verdict proposes; what it no longer does goes free.

    Where nobody knows which part fits, nothing is kept.
    """
    depot = trace.visit.depot if trace.visit else present_depot(trace.door)
    parts = part_of_components(trace.door, components) if depot else {}
    wanted = {part.pk: part for part in parts.values()}
    standing = PartReservation.objects.standing().filter(trace=trace)
    _end(standing.exclude(part__in=wanted), at, reason=_("the verdict no longer proposes it"))
    kept = set(standing.values_list("part", flat=True))
    new = [
        PartReservation(
            depot=depot,
            part=part,
            quantity=1,
            trace=trace,
            visit=trace.visit,
            reserved_at=at,
            reserved_by=by,
        )
        for key, part in wanted.items()
        if depot and key not in kept and not _is_kept_for_visit(trace.visit, key)
    ]
    PartReservation.objects.bulk_create(new)
    if new:
        shelves_changed()
    return new


@transaction.atomic
def keep_for_visit(
    *, visit: Visit, faults: Iterable[Fault], at: datetime, by: User | None = None
) -> list[PartReservation]:
    """Keep one piece for each fault of a planned visit whose component is known."""
    if visit.depot is None:
        return []
    codes = [fault.component.code for fault in faults if fault.component]
    parts = part_of_components(visit.door, codes)
    wanted = Counter(parts[code].pk for code in codes if code in parts)
    new = [
        PartReservation(
            depot=visit.depot,
            part_id=part,
            quantity=pieces,
            visit=visit,
            reserved_at=at,
            reserved_by=by,
        )
        for part, pieces in wanted.items()
        if not _is_kept_for_visit(visit, part)
    ]
    PartReservation.objects.bulk_create(new)
    if new:
        shelves_changed()
    return new


@transaction.atomic
def use_up(*, door: DoorUnit, parts: Iterable[Part], at: datetime) -> None:
    """Parts were used on a door: what was kept of them for it is kept no longer."""
    keys = {part.pk for part in parts}
    mine = PartReservation.objects.standing().filter(Q(visit__door=door) | Q(trace__door=door))
    _end(mine.filter(part__in=keys), at, was_used=True)


@transaction.atomic
def end_with_visit(*, visit: Visit, at: datetime) -> None:
    """A visit is over: what was kept for it, or for searches on its door, goes free."""
    mine = PartReservation.objects.standing()
    of_door = Q(trace__door=visit.door_id, visit__isnull=True)
    _end(mine.filter(Q(visit=visit) | of_door), at, reason=_("the visit ended without it"))


@transaction.atomic
def give_free(*, reservation: PartReservation, reason: str, at: datetime) -> None:
    """A person gives a reservation free; it says why."""
    if not reason.strip():
        raise StockRefusedError(_("Say why: the reason is empty."), field="reason")
    standing = PartReservation.objects.standing().filter(pk=reservation.pk)
    if not standing.exists():
        raise StockRefusedError(_("This reservation has ended already."), field="reason")
    _end(standing, at, reason=reason.strip()[:200])


def part_of_components(door: DoorUnit, codes: Sequence[str]) -> dict[str, Part]:
    """The part to fit for each component: what replaces the fitted one, or else the only fit."""
    fitting: dict[str, list[Part]] = {}
    for part in parts_for(door.door_model):
        if part.component and part.component.code in codes:
            fitting.setdefault(part.component.code, []).append(part)
    fitted = {
        fitment.component.code: fitment.part_id
        for fitment in door.fitments.in_place()
        .filter(component__code__in=codes)
        .select_related("component")
        .order_by("-position")
    }
    found = {code: _newest(parts, fitted.get(code)) for code, parts in fitting.items()}
    return {code: part for code, part in found.items() if part}


def _newest(parts: list[Part], fitted: int | None) -> Part | None:
    """Follow the fitted part to what replaces it at last; without one, a part without rivals."""
    replaced_by = {part.replaces_id: part for part in parts if part.replaces_id}
    by_key = {part.pk: part for part in parts}
    part = by_key.get(fitted) if fitted is not None else None
    if part is None:
        current = [each for each in parts if each.pk not in replaced_by]
        return current[0] if len(current) == 1 else None
    seen = set()
    while part.pk in replaced_by and part.pk not in seen:
        seen.add(part.pk)
        part = replaced_by[part.pk]
    return part


def _is_kept_for_visit(visit: Visit | None, part: int) -> bool:
    if visit is None:
        return False
    return PartReservation.objects.standing().filter(visit=visit, part=part).exists()


def _end(
    rows: QuerySet[PartReservation], at: datetime, *, was_used: bool = False, reason: str = ""
) -> None:
    keys = list(rows.values_list("pk", flat=True))
    # A phone's entry may be older than the reservation that it ends.
    ended = PartReservation.objects.filter(pk__in=keys).update(
        ended_at=Greatest(F("reserved_at"), Value(at)), was_used=was_used, reason=reason
    )
    if ended:
        shelves_changed()
