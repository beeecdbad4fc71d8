"""Pages of what work costs: minutes of a visit, an hour's price by depot, invoices from outside."""

from __future__ import annotations

from django.contrib import messages
from django.db.models import Q
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _

from fleetdoors.access import SignedInRequest, open_to
from fleetdoors.models import Depot, Role
from fleetdoors.templatetags.units import number
from inspections.forms.costs import InvoiceBackForm, InvoiceForm, MinutesForm, RateForm
from inspections.models import LabourRate, OutsideInvoice, Visit, VisitMinutes
from inspections.services.labour import minutes_open, note_minutes, set_rate
from inspections.services.outside_invoices import enter_invoice, reverse_invoice
from inspections.views.at_truck import of_door
from inspections.views.carrying_out import ask, carried_out
from inspections.views.place import Place

MOST = 200
DESK = (Role.PLANNER, Role.BUYER)


@open_to(*DESK)
def work_costs(request: SignedInRequest) -> HttpResponse:
    """Invoices from outside, the latest first, and what an hour costs at each depot."""
    typed = request.GET.get("q", "").strip()[:80]
    invoices = OutsideInvoice.objects.visible_to(request.user).entered()
    if typed:
        invoices = invoices.filter(
            Q(supplier__icontains=typed)
            | Q(number__icontains=typed)
            | Q(truck__fleet_number__iexact=typed)
            | Q(door__serial__iexact=typed)
        )
    shown = list(invoices[: MOST + 1])
    depots = Depot.objects.visible_to(request.user)
    context = {
        "invoices": shown[:MOST],
        "is_cut_short": len(shown) > MOST,
        "typed": typed,
        "rates": LabourRate.objects.by_depot().filter(depot__in=depots),
        "without": depots.exclude(pk__in=LabourRate.objects.in_force().values("depot")),
        "may_set": request.user.has_any_role(Role.PLANNER),
    }
    return render(request, "inspections/work_costs.html", context)


@open_to(*DESK)
def invoice_new(request: SignedInRequest) -> HttpResponse:
    """Enter an invoice; `like` brings along what one that was taken back said."""
    form = InvoiceForm(request.POST or None, user=request.user, initial=_like(request))
    now = timezone.now()
    if form.is_valid() and carried_out(
        form,
        lambda: enter_invoice(
            said=form.said(), today=timezone.localdate(), entered_at=now, entered_by=request.user
        ),
    ):
        messages.success(request, _("The invoice is on record."))
        return redirect("work-costs")
    return ask(
        request,
        form,
        heading=_("What did somebody outside do, and for how much?"),
        lead=_("One invoice, or its share for one door. It counts towards the cost of cycles."),
        save=_("Keep the invoice"),
        back=reverse("work-costs"),
    )


def _like(request: SignedInRequest) -> dict[str, object]:
    last = OutsideInvoice.objects.visible_to(request.user).entered()
    key = request.GET.get("like", "")
    if not (key.isdecimal() and len(key) < 19):
        rates = LabourRate.objects.by_depot().first()
        return {"currency": rates.currency if rates else ""}
    invoice = get_object_or_404(last, pk=int(key))
    names = ("supplier", "number", "invoiced_on", "amount", "currency", "what_for")
    return {name: getattr(invoice, name) for name in names} | {"where": invoice.door.serial}


@open_to(*DESK)
def invoice_back(request: SignedInRequest, pk: int) -> HttpResponse:
    """Take an invoice back by a row that reverses it, and go on to the corrected one."""
    invoice = get_object_or_404(OutsideInvoice.objects.visible_to(request.user).entered(), pk=pk)
    form = InvoiceBackForm(request.POST or None)
    if form.is_valid() and carried_out(
        form,
        lambda: reverse_invoice(
            invoice=invoice,
            reason=form.cleaned_data["reason"],
            entered_at=timezone.now(),
            entered_by=request.user,
        ),
    ):
        messages.success(request, _("The invoice was taken back. It stays on record."))
        if form.cleaned_data["is_entered_anew"]:
            return redirect(f"{reverse('invoice-new')}?like={invoice.pk}")
        return redirect("work-costs")
    return _ask_back(request, form, invoice)


def _ask_back(
    request: SignedInRequest, form: InvoiceBackForm, invoice: OutsideInvoice
) -> HttpResponse:
    said = {
        "number": invoice.number,
        "supplier": invoice.supplier,
        "amount": number(float(invoice.amount), 2),
        "currency": invoice.currency,
    }
    return ask(
        request,
        form,
        heading=_("Take back invoice %(number)s?") % said,
        lead=_("%(supplier)s, %(amount)s %(currency)s. A row that reverses it is added.") % said,
        save=_("Take it back"),
        back=reverse("work-costs"),
    )


@open_to(Role.PLANNER)
def rate_new(request: SignedInRequest) -> HttpResponse:
    """Say what an hour costs at a depot from a day on."""
    last = LabourRate.objects.in_force().order_by("-from_on", "-pk").first()
    initial = {
        "depot": request.GET.get("depot", ""),
        "currency": last.currency if last else "",
        "from_on": timezone.localdate().replace(day=1),
    }
    form = RateForm(request.POST or None, user=request.user, initial=initial)
    if form.is_valid() and carried_out(
        form,
        lambda: set_rate(**form.cleaned_data, entered_at=timezone.now(), entered_by=request.user),
    ):
        messages.success(request, _("The price of an hour is on record."))
        return redirect("work-costs")
    return ask(
        request,
        form,
        heading=_("What does an hour of work cost?"),
        lead=_(
            "It holds from its day on, until the next one begins. Earlier work keeps its price."
        ),
        save=_("Keep the price"),
        back=reverse("work-costs"),
    )


@open_to(Role.TECHNICIAN, Role.PLANNER)
@of_door(Visit)
def visit_minutes(request: SignedInRequest, visit: Visit, place: Place) -> HttpResponse:
    """Say how long a visit took, or put it right; the earlier word stays on record."""
    now = timezone.now()
    last = VisitMinutes.objects.in_force().filter(visit=visit).first()
    minutes = last.minutes if last else minutes_open(visit, now=now)
    form = MinutesForm(request.POST or None, is_first=last is None, initial={"minutes": minutes})
    if form.is_valid() and carried_out(
        form,
        lambda: note_minutes(
            visit=visit, **form.cleaned_data, entered_at=now, entered_by=request.user
        ),
    ):
        messages.success(request, _("On record. Costs count it from the next computation on."))
        return redirect("visit-detail", visit.pk)
    return ask(
        request,
        form,
        heading=_("How long did the visit take?"),
        lead=_("%(where)s. Work of all hands together, without breaks.")
        % {"where": place.truck or place.door},
        save=_("Keep the minutes"),
        back=reverse("visit-detail", args=[visit.pk]),
    )
