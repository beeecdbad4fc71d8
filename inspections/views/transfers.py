"""Pages of transfers: send pieces, see what is on its way, receive it."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _

from fleetdoors.access import SignedInRequest, open_to
from fleetdoors.models import Depot, Part
from inspections.forms.orders import ReasonForm
from inspections.forms.stock_moves import ArrivalForm, SendForm
from inspections.models import StockPlace, StockTransfer
from inspections.services.ledger import place_of_depot
from inspections.services.transfers import call_back_transfer, receive_pieces, send_pieces
from inspections.views.carrying_out import ask, carried_out
from inspections.views.receiving import STORES, said_now

MOST = 50
# What the address of a link to the form may fill in.
SEND_ASKED = ("from_place", "to_place")


@open_to(*STORES)
def transfer_list(request: SignedInRequest) -> HttpResponse:
    """What is on its way between places, and what arrived lately."""
    transfers = StockTransfer.objects.visible_to(request.user).with_links()
    context = {
        "on_the_way": transfers.on_the_way(),
        "ended": transfers.filter(ended_at__isnull=False)[:MOST],
        "depots": Depot.objects.visible_to(request.user),
    }
    return render(request, "inspections/transfers.html", context)


@open_to(*STORES)
def transfer_new(request: SignedInRequest, code: str, part: str) -> HttpResponse:
    """Send pieces from a place of the depot to another place."""
    depot = get_object_or_404(Depot.objects.visible_to(request.user), code=code)
    found = get_object_or_404(Part, part_number=part)
    for each in Depot.objects.order_by("code"):
        place_of_depot(each)
    form = SendForm(
        request.POST or None,
        here=StockPlace.objects.filter(depot=depot).in_order(),
        anywhere=StockPlace.objects.in_order(),
        initial={"quantity": 1, **{name: request.GET.get(name) for name in SEND_ASKED}},
    )
    back = reverse("stock-ledger", args=[depot.code, found.part_number])
    if form.is_valid() and carried_out(
        form, lambda: send_pieces(part=found, said=said_now(request), **form.cleaned_data)
    ):
        messages.success(request, _("Sent: %(part)s.") % {"part": found})
        return redirect(back)
    heading = _("Where does %(part)s go?") % {"part": found}
    lead = _("Within a depot it is there at once; to another it is on its way until received.")
    return ask(request, form, heading=heading, lead=lead, save=_("Send"), back=back)


@open_to(*STORES)
def transfer_receive(request: SignedInRequest, pk: int) -> HttpResponse:
    """Say how many pieces of a transfer arrived."""
    depots = Depot.objects.visible_to(request.user)
    transfers = StockTransfer.objects.filter(to_place__depot__in=depots).with_links()
    transfer = get_object_or_404(transfers, pk=pk)
    form = ArrivalForm(request.POST or None, initial={"arrived": transfer.quantity})
    back = reverse("transfer-list")
    if form.is_valid() and carried_out(
        form,
        lambda: receive_pieces(transfer=transfer, said=said_now(request), **form.cleaned_data),
    ):
        messages.success(request, _("Received: %(part)s.") % {"part": transfer.part})
        return redirect(back)
    heading = _("How many of %(part)s arrived?") % {"part": transfer.part}
    lead = _("%(pieces)d were sent from %(place)s.") % {
        "pieces": transfer.quantity, "place": transfer.from_place,
    }  # fmt: skip
    return ask(request, form, heading=heading, lead=lead, save=_("They are here"), back=back)


@open_to(*STORES)
def transfer_back(request: SignedInRequest, pk: int) -> HttpResponse:
    """Call back pieces that never left."""
    depots = Depot.objects.visible_to(request.user)
    transfers = StockTransfer.objects.filter(from_place__depot__in=depots).with_links()
    transfer = get_object_or_404(transfers, pk=pk)
    form = ReasonForm(request.POST or None)
    back = reverse("transfer-list")
    if form.is_valid() and carried_out(
        form,
        lambda: call_back_transfer(
            transfer=transfer, entered_at=timezone.now(), entered_by=request.user,
            **form.cleaned_data,
        ),
    ):  # fmt: skip
        return redirect(back)
    heading = _("Why is %(part)s called back?") % {"part": transfer.part}
    lead = _("Its %(pieces)d pieces lie at %(place)s again.") % {
        "pieces": transfer.quantity, "place": transfer.from_place,
    }  # fmt: skip
    return ask(request, form, heading=heading, lead=lead, save=_("Call them back"), back=back)
