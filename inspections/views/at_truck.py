"""What pages at the truck are about: a row of a door that the person may see, by its clock."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import TypeVar

from django.http import HttpResponse
from django.shortcuts import get_object_or_404
from django.utils import timezone

from fleetdoors.access import SignedInRequest
from fleetdoors.models import DoorUnit, Fitment
from inspections.models import (
    DefectReport,
    FaultTrace,
    FollowUp,
    Inspection,
    RoadHold,
    Visit,
)
from inspections.views.place import place_of

View = Callable[..., HttpResponse]
DoorRow = TypeVar(
    "DoorRow", Visit, Inspection, FaultTrace, DefectReport, RoadHold, FollowUp, Fitment
)


def of_door(model: type[DoorRow]) -> Callable[[View], View]:
    """Find a row among those of doors that the person may see, and set its door's clock."""

    def decorate(view: View) -> View:
        @wraps(view)
        def opened(request: SignedInRequest, pk: int) -> HttpResponse:
            rows = model._default_manager.filter(
                door__in=DoorUnit.objects.visible_to(request.user)
            ).select_related("door__door_model")
            row = get_object_or_404(rows, pk=pk)
            place = place_of(row.door)
            with timezone.override(place.zone):
                return view(request, row, place)

        return opened

    return decorate
