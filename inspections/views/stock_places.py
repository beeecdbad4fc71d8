"""Pages of vans, lots and kits of a depot."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _

from fleetdoors.access import SignedInRequest, open_to
from fleetdoors.models import Depot, Part, Role
from inspections.forms.vans import VanLoadForm
from inspections.models import PlaceKind, StockPlace
from inspections.services.ledger import place_of_depot
from inspections.services.stock_places import (
    kits_at,
    lots_of_depot,
    set_aside_at,
    vans_of_depot,
)
from inspections.services.transfers import send_pieces
from inspections.views.carrying_out import ask, carried_out
from inspections.views.receiving import STORES, said_now


@open_to()
def van_list(request: SignedInRequest, code: str) -> HttpResponse:
    """Which van of a depot holds what."""
    depot = get_object_or_404(Depot.objects.visible_to(request.user), code=code)
    context = {
        "depot": depot,
        "vans": vans_of_depot(depot),
        "shelf": place_of_depot(depot),
        "may_move": request.user.has_any_role(*STORES),
        "may_set_up": request.user.has_any_role(Role.ADMINISTRATOR),
    }
    return render(request, "inspections/van_list.html", context)


@open_to(*STORES)
def van_load(request: SignedInRequest, code: str, pk: int) -> HttpResponse:
    """Put pieces of the shelf into a van."""
    depot = get_object_or_404(Depot.objects.visible_to(request.user), code=code)
    vans = StockPlace.objects.filter(depot=depot, kind=PlaceKind.VAN)
    van, shelf = get_object_or_404(vans, pk=pk), place_of_depot(depot)
    there = Part.objects.filter(balances__place=shelf, balances__on_hand__gt=0)
    form = VanLoadForm(request.POST or None, parts=there.order_by("name", "part_number"))
    back = reverse("van-list", args=[depot.code])
    said = said_now(request)
    if form.is_valid() and carried_out(
        form,
        lambda: send_pieces(from_place=shelf, to_place=van, said=said, **form.cleaned_data),
    ):
        messages.success(
            request, _("In %(van)s: %(part)s.") % {"van": van.name, **form.cleaned_data}
        )
        return redirect(back)
    heading = _("What goes into %(van)s?") % {"van": van.name}
    lead = _("It leaves the shelf of %(depot)s and still counts as on hand.") % {"depot": depot}
    return ask(request, form, heading=heading, lead=lead, save=_("Put it in"), back=back)


@open_to()
def lot_list(request: SignedInRequest, code: str) -> HttpResponse:
    """Lots of a depot in the order in which they are used up, and what is set aside."""
    depot = get_object_or_404(Depot.objects.visible_to(request.user), code=code)
    with timezone.override(depot.zone):
        context = {
            "depot": depot,
            "lots": lots_of_depot(depot, today=timezone.localdate()),
            "aside": set_aside_at(depot),
            "may_move": request.user.has_any_role(*STORES),
        }
        return render(request, "inspections/lot_list.html", context)


@open_to()
def kit_list(request: SignedInRequest, code: str) -> HttpResponse:
    """Which kits the shelf of a depot fills, how often, and what it lacks."""
    depot = get_object_or_404(Depot.objects.visible_to(request.user), code=code)
    with timezone.override(depot.zone):
        context = {
            "depot": depot,
            "kits": kits_at(depot, today=timezone.localdate()),
            "may_move": request.user.has_any_role(*STORES),
            "may_plan": request.user.has_any_role(Role.PLANNER),
        }
        return render(request, "inspections/kit_list.html", context)
