"""What to order today: the list, and the orders that it becomes."""

from __future__ import annotations

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from analytics.forms.order_today import Ticked, read_ticked
from analytics.reports.basis import basis_at
from analytics.reports.failing_parts import failing_parts
from analytics.reports.order_today import orders_today
from analytics.reports.order_today_words import shown_lines, summary_words
from analytics.reports.scope import depot_ids_of
from fleetdoors.access import SignedInRequest, open_to
from fleetdoors.models import Role
from fleetdoors.templatetags.units import number
from inspections.services.drafting import Drafted, draft_orders
from inspections.services.order_state import OrderRefusedError


@open_to(Role.PLANNER, Role.BUYER)
def order_today(request: SignedInRequest) -> HttpResponse:
    """Everything at or below its level, soonest empty first; the buyer makes orders of it."""
    depot_ids = depot_ids_of(request.user)
    basis = basis_at(depot_ids, now=timezone.now())
    found = orders_today(depot_ids, basis)
    ticked = None
    if request.method == "POST":
        if not request.user.has_any_role(Role.BUYER):
            raise PermissionDenied(_("Orders are written by the parts buyer."))
        ticked = read_ticked(request.POST, found.lines)
        drafted = None if ticked.errors else _draft(request, ticked)
        if drafted:
            return _onward(drafted)
    failing = failing_parts(basis)
    context = {
        "basis": basis,
        "lines": shown_lines(found.lines, basis.today, ticked, failing),
        "failing": failing,
        "summary": summary_words(found, basis),
        "beyond": found.beyond,
        "may_order": request.user.has_any_role(Role.BUYER),
        "may_recompute": request.user.has_any_role(Role.PLANNER),
    }
    return render(request, "analytics/order_today.html", context)


def _onward(drafted: Drafted) -> HttpResponse:
    """To the one order, to be placed; to the list where there are several."""
    first, *others = drafted.orders
    return redirect("order-list") if others else redirect("order-detail", first.number)


def _draft(request: SignedInRequest, ticked: Ticked) -> Drafted | None:
    """Put the ticked lines on orders; without any, a message says why not."""
    if not ticked.wanted:
        messages.warning(request, _("Nothing is ticked: tick the lines to order."))
        return None
    try:
        made = draft_orders(lines=ticked.wanted, entered_at=timezone.now(), entered_by=request.user)
    except OrderRefusedError as refusal:
        messages.error(request, f"{refusal} {_('Nothing was written.')}")
        return None
    count = len(ticked.wanted)
    said = ngettext("%(n)s line is on an order being written", "%(n)s lines are on orders being "
                    "written", count) % {"n": number(count)}  # fmt: skip
    numbers = ", ".join(order.number for order in made.orders)
    messages.success(request, _("%(said)s: %(numbers)s.") % {"said": said, "numbers": numbers})
    return made
