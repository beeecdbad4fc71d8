"""The page on which a depot's stock stands, and a part is counted."""

from __future__ import annotations

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django_tables2 import RequestConfig

from fleetdoors.access import SignedInRequest, open_to
from fleetdoors.models import Depot, Part, Role
from inspections.forms.stock import StockCountForm
from inspections.services.stock import StockCountRefusedError, record_count
from inspections.services.stock_now import stock_of
from inspections.tables import StockTable


@open_to()
def stock_count(request: SignedInRequest, code: str) -> HttpResponse:
    """What lies at a depot for everyone who may see it; its buyer counts."""
    depot = get_object_or_404(Depot.objects.visible_to(request.user), code=code)
    may_count = request.user.has_any_role(Role.BUYER)
    if request.method == "POST" and not may_count:
        raise PermissionDenied(_("Stock is counted by the parts buyer."))
    with timezone.override(depot.zone):
        initial = {"counted_at": timezone.now(), "part": request.GET.get("part")}
        form = StockCountForm(request.POST or None, initial=initial)
        if form.is_valid() and _count(request, depot, form):
            messages.success(request, _("Counted: %(part)s.") % {"part": form.cleaned_data["part"]})
            return redirect("stock-count", depot.code)
        table = StockTable(stock_of(depot=depot, parts=Part.objects.all()), may_count=may_count)
        RequestConfig(request, paginate={"per_page": 50}).configure(table)
        context = {"form": form, "depot": depot, "table": table, "may_count": may_count}
        return render(request, "inspections/stock_count.html", context)


def _count(request: SignedInRequest, depot: Depot, form: StockCountForm) -> bool:
    """Whether the count is on record; if not, the form says why."""
    try:
        record_count(
            depot=depot,
            part=form.cleaned_data["part"],
            counted_at=form.cleaned_data["counted_at"],
            counted=form.counted(),
            entered_at=timezone.now(),
            entered_by=request.user,
        )
    except StockCountRefusedError as error:
        form.add_error(error.field, str(error))
        return False
    return True
