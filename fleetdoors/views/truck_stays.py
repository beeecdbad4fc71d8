"""Where a truck lives, and when it is out of use."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from fleetdoors.access import SignedInRequest, open_to
from fleetdoors.forms.truck_stays import LayUpForm, MoveTruckForm
from fleetdoors.models import Depot, LayUp, Role, Truck, TruckDepot
from fleetdoors.services.truck_stays import (
    StayRefusedError,
    back_in_service,
    lay_up,
    move_truck,
)


def _of_truck(view: Callable[..., HttpResponse]) -> Callable[..., HttpResponse]:
    """Find the truck among those the person may see, and set its clock."""

    @wraps(view)
    def opened(request: SignedInRequest, truck: str) -> HttpResponse:
        trucks = Truck.objects.visible_to(request.user).select_related("depot")
        found = get_object_or_404(trucks, fleet_number=truck)
        with timezone.override(found.depot.zone):
            return view(request, found)

    return opened


@open_to(Role.PLANNER)
@_of_truck
def truck_stays(request: SignedInRequest, truck: Truck) -> HttpResponse:
    """The truck's depots and lay-ups, with forms for the next."""
    today = timezone.localdate()
    depots = Depot.objects.visible_to(request.user).exclude(pk=truck.depot_id)
    asked = request.POST.get("what")
    move = MoveTruckForm(request.POST if asked == "move" else None, depots=depots, today=today)
    rest = LayUpForm(request.POST if asked == "rest" else None, today=today)
    if (move.is_bound and _done(move, truck, move_truck)) or (
        rest.is_bound and _done(rest, truck, lay_up)
    ):
        messages.success(request, _("Kept. The figures of its door follow."))
        return redirect("truck-stays", truck.fleet_number)
    context = {
        "truck": truck,
        "move": move,
        "rest": rest,
        "stays": TruckDepot.objects.filter(truck=truck).select_related("depot").order_by("from_on"),
        "lay_ups": LayUp.objects.filter(truck=truck).order_by("-from_on"),
    }
    return render(request, "fleetdoors/truck_stays.html", context)


def _done(form: MoveTruckForm | LayUpForm, truck: Truck, write: Callable[..., object]) -> bool:
    """Whether it is on record now; if not, the form says why."""
    if not form.is_valid():
        return False
    try:
        write(truck=truck, **form.cleaned_data)
    except StayRefusedError as refused:
        form.add_error(None, str(refused))
        return False
    return True


@open_to(Role.PLANNER)
@require_POST
def lay_up_end(request: SignedInRequest, pk: int) -> HttpResponse:
    """The truck is in use again from today on."""
    trucks = Truck.objects.visible_to(request.user)
    stay = get_object_or_404(LayUp.objects.select_related("truck__depot"), truck__in=trucks, pk=pk)
    today = timezone.localdate(timezone=stay.truck.depot.zone)
    try:
        back_in_service(stay=stay, last_day=today)
    except StayRefusedError as refused:
        messages.error(request, str(refused))
    else:
        messages.success(request, _("In use again."))
    return redirect("truck-stays", stay.truck.fleet_number)
