"""Pages of claims on suppliers."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _

from fleetdoors.access import SignedInRequest, open_to
from fleetdoors.models import Depot, Role
from inspections.forms.suppliers import ClaimForm, ClaimStepForm
from inspections.models import PartReturn
from inspections.services.part_claims import Claimed, next_steps, open_claim, step_claim
from inspections.views.carrying_out import ask, carried_out
from inspections.views.receiving import said_now

MOST = 100


@open_to(Role.BUYER, Role.PLANNER)
def claim_list(request: SignedInRequest) -> HttpResponse:
    """What is claimed from suppliers; what waits for an answer first."""
    depots = Depot.objects.visible_to(request.user)
    context = {
        "claims": PartReturn.objects.filter(depot__in=depots).with_links()[:MOST],
        "may_write": request.user.has_any_role(Role.BUYER),
    }
    return render(request, "inspections/claim_list.html", context)


@open_to(Role.BUYER)
def claim_new(request: SignedInRequest) -> HttpResponse:
    """Begin a claim."""
    form = ClaimForm(request.POST or None, user=request.user)
    made: list[PartReturn] = []

    def begin() -> None:
        facts = dict(form.cleaned_data)
        depot = facts.pop("depot")
        now = timezone.now()
        made.append(
            open_claim(
                depot=depot, claimed=Claimed(**facts), entered_at=now, entered_by=request.user
            )
        )

    if form.is_valid() and carried_out(form, begin):
        return redirect("claim-detail", made[0].pk)
    lead = _("Under warranty, an old unit for its deposit, or a wrong or damaged delivery.")
    heading, back = _("What is claimed from a supplier?"), reverse("claim-list")
    return ask(request, form, heading=heading, lead=lead, save=_("Begin the claim"), back=back)


@open_to(Role.BUYER)
def claim_detail(request: SignedInRequest, pk: int) -> HttpResponse:
    """A claim, every step of it, and the next one."""
    depots = Depot.objects.visible_to(request.user)
    claim = get_object_or_404(PartReturn.objects.filter(depot__in=depots).with_links(), pk=pk)
    form = ClaimStepForm(request.POST or None, claim=claim)
    if form.is_valid() and carried_out(
        form,
        lambda: step_claim(
            claim=claim,
            said=said_now(request),
            currency=claim.supplier.currency,
            **form.cleaned_data,
        ),
    ):
        return redirect("claim-detail", claim.pk)
    context = {
        "claim": claim,
        "steps": claim.steps.select_related("entered_by"),
        "form": form if next_steps(claim) else None,
    }
    return render(request, "inspections/claim_detail.html", context)
