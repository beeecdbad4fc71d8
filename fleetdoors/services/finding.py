"""Finding a door by what stands on the truck or on its box."""

from __future__ import annotations

from dataclasses import dataclass

from django.db.models import Case, IntegerField, Q, Value, When

from fleetdoors.models import DoorUnit, Mounting, Truck, User

MOST = 24


@dataclass(frozen=True)
class Match:
    """A truck with its door, a door on no truck, or a truck without a door (the other empty)."""

    truck: str
    door: str
    depot: str


@dataclass(frozen=True)
class Found:
    """What is called exactly so, or else what begins with it and what has it inside."""

    exact: list[Match]
    similar: list[Match]
    is_cut_short: bool


def find_trucks_and_doors(*, user: User, typed: str) -> Found:
    """Trucks and doors of the depots that the person may see, by number; queries a few times."""
    if not typed:
        return Found([], [], False)
    for called in dict.fromkeys((typed, _number_in(typed))):
        exact = _matches(user, "iexact", called)
        if exact:
            return Found(exact[:MOST], [], len(exact) > MOST)
        similar = _matches(user, "icontains", called)
        if similar:
            return Found([], similar[:MOST], len(similar) > MOST)
    return Found([], [], False)


def _number_in(typed: str) -> str:
    """The last word with a digit in it: people say "door 17"; otherwise what was typed."""
    words = [word for word in typed.split() if any(sign.isdigit() for sign in word)]
    return words[-1] if words else typed


def _matches(user: User, lookup: str, typed: str) -> list[Match]:
    """Mounted doors by truck or serial, then doors on no truck, then trucks without a door."""
    return [
        *_mounted(user, lookup, typed),
        *_loose_doors(user, lookup, typed),
        *_empty_trucks(user, lookup, typed),
    ]


def _mounted(user: User, lookup: str, typed: str) -> list[Match]:
    names = ("truck__fleet_number", "door__serial")
    rows = (
        Mounting.objects.open()
        .filter(_any_of(names, lookup, typed), door__in=DoorUnit.objects.visible_to(user))
        .select_related("door", "truck__depot")
        .order_by(_beginning_first(names, typed), "truck__fleet_number")
    )
    return [
        Match(row.truck.fleet_number, row.door.serial, str(row.truck.depot))
        for row in rows[: MOST + 1]
    ]


def _loose_doors(user: User, lookup: str, typed: str) -> list[Match]:
    rows = (
        DoorUnit.objects.visible_to(user)
        .filter(_any_of(("serial",), lookup, typed))
        .exclude(pk__in=Mounting.objects.open().values("door_id"))
        .order_by(_beginning_first(("serial",), typed), "serial")
    )
    return [Match("", door.serial, "") for door in rows[: MOST + 1]]


def _empty_trucks(user: User, lookup: str, typed: str) -> list[Match]:
    rows = (
        Truck.objects.visible_to(user)
        .filter(_any_of(("fleet_number",), lookup, typed))
        .exclude(pk__in=Mounting.objects.open().values("truck_id"))
        .select_related("depot")
        .order_by(_beginning_first(("fleet_number",), typed), "fleet_number")
    )
    return [Match(truck.fleet_number, "", str(truck.depot)) for truck in rows[: MOST + 1]]


def _any_of(names: tuple[str, ...], lookup: str, typed: str) -> Q:
    condition = Q()
    for name in names:
        condition |= Q((f"{name}__{lookup}", typed))
    return condition


def _beginning_first(names: tuple[str, ...], typed: str) -> Case:
    """Sorts what begins with the text before what has it inside."""
    begins = _any_of(names, "istartswith", typed)
    return Case(When(begins, then=Value(0)), default=Value(1), output_field=IntegerField())
