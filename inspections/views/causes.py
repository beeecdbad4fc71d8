"""How often each cause is it: shown to everybody who traces, said by planners."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.text import capfirst
from django.utils.translation import gettext as _

from fleetdoors.access import SignedInRequest, open_to
from fleetdoors.models import Depot, Role
from inspections.forms.cause_shares import CauseSharesForm
from inspections.services.cause_shares import (
    DEPOT_ENOUGH,
    CauseBasis,
    CauseShareRefusedError,
    cause_basis,
    say_shares,
    shares_said,
)
from inspections.tracing.likelihood import GROUPS, PRIOR_WEIGHT


@open_to(Role.TECHNICIAN, Role.PLANNER)
def cause_shares(request: SignedInRequest) -> HttpResponse:
    """Shares said, faults repaired, and what a search begins with, in the fleet or at a depot."""
    depots = Depot.objects.visible_to(request.user).order_by("code")
    code = request.GET.get("depot", "")
    depot = get_object_or_404(depots, code=code) if code else None
    basis = cause_basis(depot)
    context = {
        "basis": basis,
        "rows": _rows(basis),
        "depots": depots,
        "enough": DEPOT_ENOUGH,
        "weight": PRIOR_WEIGHT,
        "may_write": request.user.has_any_role(Role.PLANNER),
    }
    return render(request, "inspections/cause_shares.html", context)


@open_to(Role.PLANNER)
def cause_shares_say(request: SignedInRequest) -> HttpResponse:
    """Say other shares; what the fleet's own faults have shown stays."""
    form = CauseSharesForm(request.POST or None, initial=shares_said())
    if form.is_valid():
        try:
            say_shares(
                percent=form.percent(),
                reason=form.cleaned_data["reason"],
                entered_at=timezone.now(),
                entered_by=request.user,
            )
        except CauseShareRefusedError as refused:
            form.add_error(None, str(refused))
        else:
            messages.success(request, _("The next search begins with these."))
            return redirect("cause-shares")
    return render(request, "inspections/cause_shares_say.html", {"form": form})


def _rows(basis: CauseBasis) -> list[dict[str, object]]:
    """A row for each cause, the likeliest first."""
    return [
        {
            "name": capfirst(_(GROUPS[code].name)),
            "usual": GROUPS[code].prior,
            "said": basis.said[code] / 100,
            "closed": basis.closed.get(code, 0),
            "closed_at_depot": basis.closed_at_depot.get(code, 0),
            "share": share,
        }
        for code, share in sorted(basis.shares.items(), key=lambda each: -each[1])
    ]
