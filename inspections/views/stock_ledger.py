"""Pages of the ledger: why so many of a part lie at a depot, and what moves them."""

from __future__ import annotations

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _

from fleetdoors.access import SignedInRequest, open_to
from fleetdoors.models import Depot, Part, Role
from inspections.forms.orders import ReasonForm
from inspections.forms.stock_moves import KitForm, MoveForm
from inspections.ledger_words import movement_lines
from inspections.models import PartReservation, StockBalance, StockMovement, StockPlace
from inspections.services.issuing import (
    bring_back,
    issue_kit,
    issue_pieces,
    take_back_movement,
    write_off,
)
from inspections.services.reservations import give_free
from inspections.services.stock_now import lots_at, on_hand_now
from inspections.services.transfers import set_aside
from inspections.views.carrying_out import ask, carried_out
from inspections.views.receiving import STORES, said_now

PER_PAGE = 50
# What the address of a link to the form may fill in.
MOVE_ASKED = ("kind", "place", "lot")


@open_to()
def ledger(request: SignedInRequest, code: str, part: str) -> HttpResponse:
    """A part at a depot: what lies where, and every movement that makes the figure."""
    depot = get_object_or_404(Depot.objects.visible_to(request.user), code=code)
    found = get_object_or_404(
        Part.objects.select_related("component", "replaces"), part_number=part
    )
    with timezone.override(depot.zone):
        movements = StockMovement.objects.at_depot(depot, found)
        page = Paginator(movements, PER_PAGE).get_page(request.GET.get("page"))
        may_move = request.user.has_any_role(*STORES)
        context = {
            "depot": depot,
            "part": found,
            "now": on_hand_now(depot=depot, part=found),
            "balances": StockBalance.objects.at_depot(depot).filter(part=found).with_links(),
            "lots": lots_at(depot=depot, part=found, today=timezone.localdate()),
            "page": page,
            "lines": movement_lines(page.object_list, may_move=may_move),
            "alternates": found.alternates.select_related("alternate"),
            "newer": found.replaced_by.order_by("part_number"),
            "may_move": may_move,
        }
        return render(request, "inspections/stock_ledger.html", context)


@open_to(*STORES)
def stock_move(request: SignedInRequest, code: str, part: str) -> HttpResponse:
    """Hand out, bring back, set aside or write off."""
    depot = get_object_or_404(Depot.objects.visible_to(request.user), code=code)
    found = get_object_or_404(Part, part_number=part)
    places = StockPlace.objects.filter(depot=depot).in_order()
    asked = {name: request.GET[name] for name in MOVE_ASKED if name in request.GET}
    initial = {"kind": "issue", "quantity": 1, **asked}
    form = MoveForm(request.POST or None, initial=initial, places=places, part=found)
    back = reverse("stock-ledger", args=[depot.code, found.part_number])
    if form.is_valid() and carried_out(form, lambda: _move(request, found, form)):
        messages.success(request, _("On record: %(part)s.") % {"part": found})
        return redirect(back)
    heading = _("What happens to %(part)s?") % {"part": found}
    lead = _("At %(depot)s. What was entered by mistake is taken back from its movement.") % {
        "depot": depot
    }
    return ask(request, form, heading=heading, lead=lead, save=_("Write it down"), back=back)


@open_to(*STORES)
def kit_issue(request: SignedInRequest, code: str) -> HttpResponse:
    """Hand out every part of a kit, or none."""
    depot = get_object_or_404(Depot.objects.visible_to(request.user), code=code)
    places = StockPlace.objects.filter(depot=depot).for_work().in_order()
    form = KitForm(request.POST or None, places=places)
    back = reverse("stock-count", args=[depot.code])
    if form.is_valid() and carried_out(
        form,
        lambda: issue_kit(
            place=form.cleaned_data["place"],
            kit=form.cleaned_data["kit"],
            door=form.cleaned_data["door"],
            said=said_now(request),
        ),
    ):
        messages.success(request, _("Handed out: %(kit)s.") % form.cleaned_data)
        return redirect(back)
    lead = _("Every part of it leaves the place, or none where one is short.")
    heading, save = _("Which kit is handed out?"), _("Hand it out")
    return ask(request, form, heading=heading, lead=lead, save=save, back=back)


@open_to(*STORES)
def movement_undo(request: SignedInRequest, pk: int) -> HttpResponse:
    """Take a movement back by its counter movement."""
    visible = StockPlace.objects.visible_to(request.user)
    movements = StockMovement.objects.filter(place__in=visible)
    movement = get_object_or_404(movements.select_related("place__depot", "part", "door"), pk=pk)
    form = ReasonForm(request.POST or None)
    back = reverse("stock-ledger", args=[movement.place.depot.code, movement.part.part_number])
    if form.is_valid() and carried_out(
        form,
        lambda: take_back_movement(movement=movement, said=said_now(request), **form.cleaned_data),
    ):
        return redirect(back)
    heading = _("Why is this taken back: %(pieces)+d of %(part)s?") % {
        "pieces": movement.quantity, "part": movement.part,
    }  # fmt: skip
    lead = _("The movement stays on record; one the other way is written after it.")
    return ask(request, form, heading=heading, lead=lead, save=_("Take it back"), back=back)


@open_to(Role.BUYER, Role.PLANNER)
def reservation_free(request: SignedInRequest, pk: int) -> HttpResponse:
    """Give a reservation free."""
    visible = Depot.objects.visible_to(request.user)
    rows = PartReservation.objects.filter(depot__in=visible).with_links()
    reservation = get_object_or_404(rows, pk=pk)
    form = ReasonForm(request.POST or None)
    back = reverse("stock-count", args=[reservation.depot.code])
    if form.is_valid() and carried_out(
        form,
        lambda: give_free(reservation=reservation, at=timezone.now(), **form.cleaned_data),
    ):
        return redirect(back)
    heading = _("Why is %(part)s kept no longer?") % {"part": reservation.part}
    lead = _("Anyone may then take the pieces.")
    return ask(request, form, heading=heading, lead=lead, save=_("Give it free"), back=back)


def _move(request: SignedInRequest, part: Part, form: MoveForm) -> None:
    facts = form.cleaned_data
    common = {"place": facts["place"], "part": part, "quantity": facts["quantity"]}
    said = said_now(request)
    lot = facts["lot"]
    if facts["kind"] == "issue":
        issue_pieces(**common, said=said, door=facts["door"], reason=facts["reason"])
    elif facts["kind"] == "return":
        bring_back(**common, said=said, reason=facts["reason"])
    elif facts["kind"] == "aside":
        set_aside(**common, said=said, reason=facts["reason"], lot=lot)
    else:
        write_off(**common, said=said, reason=facts["reason"], lot=lot.pk if lot else None)
