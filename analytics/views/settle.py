"""Readings to settle: one action each, or many at once."""

from __future__ import annotations

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from analytics.forms.settling import SettleForm, Verdict
from analytics.reports.basis import basis_at
from analytics.reports.scope import depot_ids_of
from analytics.reports.settle_page import settle_page, waiting, waiting_among
from analytics.reports.suspicion import suspicion
from fleetdoors.access import SignedInRequest, open_to
from fleetdoors.models import Role
from inspections.services.corrections import CorrectionRefusedError
from inspections.services.readings import ReadingClashError, ReadingRefusedError
from inspections.services.settling import settle_readings

ROWS_A_PAGE = 30


@open_to()
def readings_to_settle(request: SignedInRequest) -> HttpResponse:
    """Held readings with their questions; below, what was settled without asking."""
    depot_ids = depot_ids_of(request.user)
    may_settle = request.user.has_any_role(Role.TECHNICIAN, Role.PLANNER)
    if request.method == "POST":
        if not may_settle:
            raise PermissionDenied(_("Readings are settled by planners and technicians."))
        return _settle(request, depot_ids)
    basis = basis_at(depot_ids, now=timezone.now())
    page = Paginator(waiting(depot_ids, basis), ROWS_A_PAGE).get_page(request.GET.get("page"))
    context = {
        "page": page,
        "rows": [suspicion(row) for row in page],
        "verdicts": Verdict,
        "below": settle_page(depot_ids, basis),
        "basis": basis,
        "may_settle": may_settle,
        "may_recompute": request.user.has_any_role(Role.PLANNER),
    }
    return render(request, "analytics/settle.html", context)


def _settle(request: SignedInRequest, depot_ids: tuple[int, ...] | None) -> HttpResponse:
    """Carry out what was decided, and say what happened; nothing is done by halves."""
    now = timezone.now()
    form = SettleForm(request.POST)
    if not form.is_valid():
        messages.error(request, form.what_is_wrong())
        return redirect("readings-to-settle")
    suspects = waiting_among(form.reading_ids(), depot_ids, basis_at(depot_ids, now=now))
    decisions = form.decisions(suspects)
    try:
        settle_readings(decisions=decisions, entered_at=now, entered_by=request.user)
    except (CorrectionRefusedError, ReadingClashError, ReadingRefusedError) as refusal:
        messages.error(request, f"{refusal} {_('Nothing was changed.')}")
        return redirect("readings-to-settle")
    count = len(decisions)
    settled = ngettext("%(n)s reading settled.", "%(n)s readings settled.", count) % {"n": count}
    messages.success(request, settled) if count else messages.warning(request, form.nothing_done())
    return redirect("readings-to-settle")
