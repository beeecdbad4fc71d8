"""Pages for paper: a truck's record, and what is due at a depot in the next weeks."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone

from analytics.forms.paper import RecordRangeForm, WeeksForm
from analytics.reports.basis import basis_in
from analytics.reports.due_on_paper import due_sheet
from analytics.reports.truck_record import range_asked_for, truck_record
from fleetdoors.access import SignedInRequest, open_to
from fleetdoors.models import Depot, Truck


@open_to()
def truck_record_page(request: SignedInRequest, truck: str) -> HttpResponse:
    """Everything on record about one truck's doors, for an audit or a sale."""
    trucks = Truck.objects.visible_to(request.user).select_related("depot")
    found = get_object_or_404(trucks, fleet_number=truck)
    now = timezone.now()
    form = RecordRangeForm(request.GET or None)
    asked = form.cleaned_data if form.is_valid() else {}
    with timezone.override(found.depot.zone):
        basis = basis_in(found.depot.zone, now=now)
        within = range_asked_for(asked.get("from_on"), asked.get("until_on"), basis.today)
        context = {
            "truck": found,
            "basis": basis,
            "record": truck_record(found, basis, within),
            "form": RecordRangeForm(
                initial={"from_on": within.from_on, "until_on": within.until_on}
            ),
            "printed_at": now,
        }
        return render(request, "analytics/truck_record.html", context)


@open_to()
def due_sheet_page(request: SignedInRequest, code: str) -> HttpResponse:
    """The next weeks of a depot, week by week, with room to write."""
    depot = get_object_or_404(Depot.objects.visible_to(request.user), code=code)
    now = timezone.now()
    form = WeeksForm(request.GET or None)
    weeks = form.chosen()
    with timezone.override(depot.zone):
        basis = basis_in(depot.zone, now=now)
        context = {
            "depot": depot,
            "basis": basis,
            "weeks": weeks,
            "sheet": due_sheet(depot, basis, weeks),
            "form": WeeksForm(initial={"weeks": weeks}),
            "printed_at": now,
        }
        return render(request, "analytics/due_on_paper.html", context)
