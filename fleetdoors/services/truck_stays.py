"""Trucks move between depots and are laid up; figures follow."""

from __future__ import annotations

from datetime import date, timedelta

from django.db import transaction
from django.db.models import Q
from django.utils.translation import gettext as _

from fleetdoors.models import Depot, LayUp, Mounting, Truck, TruckDepot
from fleetdoors.services.recomputation import doors_changed

# A stay that began before anything is on record.
BEFORE_THE_RECORD = date(1970, 1, 1)


class StayRefusedError(ValueError):
    """The truck cannot be moved or laid up as asked; nothing was changed."""


@transaction.atomic
def move_truck(*, truck: Truck, depot: Depot, moved_on: date) -> None:
    """From the day on the truck lives at the depot; its past stays where it was."""
    truck = Truck.objects.select_for_update().get(pk=truck.pk)
    if truck.depot_id == depot.pk:
        raise StayRefusedError(_("The truck lives at %(depot)s already.") % {"depot": depot})
    last = TruckDepot.objects.filter(truck=truck).order_by("-from_on").first()
    begun = last.from_on if last else (truck.in_service_on or BEFORE_THE_RECORD)
    if moved_on <= begun:
        raise StayRefusedError(
            _("The truck came to its present depot on %(day)s: it moves on after that.")
            % {"day": begun}
        )
    until = moved_on - timedelta(days=1)
    if last and last.until_on is None:
        last.until_on = until
        last.save(update_fields=("until_on",))
    elif last is None or (last.until_on and last.until_on < until):
        since = last.until_on + timedelta(days=1) if last and last.until_on else begun
        TruckDepot.objects.create(truck=truck, depot=truck.depot, from_on=since, until_on=until)
    TruckDepot.objects.create(truck=truck, depot=depot, from_on=moved_on)
    truck.depot = depot
    truck.save(update_fields=("depot",))
    _doors_follow(truck)


@transaction.atomic
def lay_up(*, truck: Truck, from_on: date, until_on: date | None, reason: str) -> LayUp:
    """Days on which no cycles are to be expected; two lay-ups of a truck do not overlap."""
    truck = Truck.objects.select_for_update().get(pk=truck.pk)
    if until_on and until_on < from_on:
        raise StayRefusedError(_("A lay-up ends on the day it begins or later."))
    overlap = LayUp.objects.filter(truck=truck).filter(
        Q(until_on__isnull=True) | Q(until_on__gte=from_on)
    )
    if until_on:
        overlap = overlap.filter(from_on__lte=until_on)
    if overlap.exists():
        raise StayRefusedError(_("The truck is laid up on some of these days already."))
    made = LayUp.objects.create(
        truck=truck, from_on=from_on, until_on=until_on, reason=reason.strip()[:200]
    )
    _doors_follow(truck)
    return made


@transaction.atomic
def back_in_service(*, stay: LayUp, last_day: date) -> None:
    """The lay-up ended on the day; it does not end before it began."""
    truck = Truck.objects.select_for_update().get(pk=stay.truck_id)
    if last_day < stay.from_on:
        raise StayRefusedError(_("A lay-up ends on the day it begins or later."))
    stay.until_on = last_day
    stay.save(update_fields=("until_on",))
    _doors_follow(truck)


def _doors_follow(truck: Truck) -> None:
    """The doors that were ever on the truck are computed anew."""
    doors_changed(
        sorted(set(Mounting.objects.filter(truck=truck).values_list("door_id", flat=True)))
    )
