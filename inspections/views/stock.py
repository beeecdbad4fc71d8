"""Pages on which a depot's stock stands, is counted, and is counted by hand on paper."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django_tables2 import RequestConfig

from fleetdoors.access import SignedInRequest, open_to
from fleetdoors.models import Depot, Part, Role
from inspections.forms.stock import StockCountForm
from inspections.ledger_words import difference_words
from inspections.models import PartReservation, StockBalance, StockPlace
from inspections.services.ledger import place_of_depot
from inspections.services.stock import difference_from_record, record_count
from inspections.services.stock_now import stock_of
from inspections.tables import StockTable
from inspections.views.carrying_out import carried_out

COUNTERS = (Role.BUYER, Role.TECHNICIAN)


@open_to()
def stock_count(request: SignedInRequest, code: str) -> HttpResponse:
    """What lies at a depot, for everyone who may see it; each balance leads to its movements."""
    depot = get_object_or_404(Depot.objects.visible_to(request.user), code=code)
    may_count = request.user.has_any_role(*COUNTERS)
    with timezone.override(depot.zone):
        stock = stock_of(depot=depot, parts=Part.objects.all())
        table = StockTable(stock, depot=depot, may_count=may_count)
        RequestConfig(request, paginate={"per_page": 50}).configure(table)
        context = {
            "depot": depot,
            "table": table,
            "may_count": may_count,
            "wrong": [row for row in stock if row.needs_count],
            "reserved": PartReservation.objects.standing().filter(depot=depot).with_links(),
            "may_buy": request.user.has_any_role(Role.BUYER),
        }
        return render(request, "inspections/stock.html", context)


@open_to(*COUNTERS)
def stock_count_new(request: SignedInRequest, code: str) -> HttpResponse:
    """Count a part without seeing the record; what differs from it is then asked about."""
    depot = get_object_or_404(Depot.objects.visible_to(request.user), code=code)
    places = StockPlace.objects.filter(depot=depot).exclude(kind="shelf").in_order()
    with timezone.override(depot.zone):
        initial = {"counted_at": timezone.now(), "part": request.GET.get("part")}
        form = StockCountForm(request.POST or None, initial=initial, places=places)
        difference = _difference(depot, form) if form.is_valid() else None
        if difference is not None and _is_told(form, difference) and _count(request, depot, form):
            messages.success(request, _("Counted: %(part)s.") % {"part": form.cleaned_data["part"]})
            return redirect("stock-count-new", depot.code)
        context = {
            "form": form,
            "depot": depot,
            "difference_words": difference_words(difference) if difference else "",
        }
        return render(request, "inspections/stock_count.html", context)


@open_to()
def stock_sheet(request: SignedInRequest, code: str) -> HttpResponse:
    """A sheet to count by, without any figure on it: what to look for, where, and a box."""
    depot = get_object_or_404(Depot.objects.visible_to(request.user), code=code)
    place_of_depot(depot)
    balances = StockBalance.objects.at_depot(depot).with_links()
    with timezone.override(depot.zone):
        context = {"depot": depot, "balances": balances, "day": timezone.localdate()}
        return render(request, "inspections/stock_sheet.html", context)


def _difference(depot: Depot, form: StockCountForm) -> int:
    """By how many pieces the count differs from the record of that moment; queries."""
    facts = form.cleaned_data
    return difference_from_record(
        place=facts["place"] or place_of_depot(depot),
        part=facts["part"],
        counted=facts["on_hand"],
        counted_at=facts["counted_at"],
    )


def _is_told(form: StockCountForm, difference: int) -> bool:
    """Whether a difference has its reason; if not, the form now asks for it."""
    if not difference or form.cleaned_data["difference_reason"].strip():
        return True
    form.ask_why()
    return False


def _count(request: SignedInRequest, depot: Depot, form: StockCountForm) -> bool:
    """Whether the count is on record; if not, the form says why."""
    return carried_out(
        form,
        lambda: record_count(
            depot=depot,
            part=form.cleaned_data["part"],
            counted_at=form.cleaned_data["counted_at"],
            counted=form.counted(),
            entered_at=timezone.now(),
            entered_by=request.user,
            place=form.cleaned_data["place"],
        ),
    )
