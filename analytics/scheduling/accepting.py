"""A proposal accepted: its visits become planned visits, and it is put away."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime, timedelta

from django.db import transaction

from analytics.models import Proposal
from analytics.scheduling.board import board_of
from fleetdoors.models import Depot, User
from inspections.models import PlanAcceptance
from inspections.services.planning import AcceptedPlan, accept_plan


@transaction.atomic
def accept_proposal(
    *, proposal: Proposal, why: Mapping[int, str], accepted_at: datetime, accepted_by: User
) -> PlanAcceptance:
    """Write the proposal's visits into the record; raises PlanRefusedError where it is outdated."""
    proposal = Proposal.objects.select_for_update().get(pk=proposal.pk)
    plan = AcceptedPlan(
        depot=Depot.objects.get(pk=proposal.depot_id),
        first_on=proposal.first_on,
        last_on=proposal.first_on + timedelta(days=proposal.nights - 1),
        wanted=board_of(proposal).wanted(),
        why=why,
    )
    acceptance = accept_plan(
        plan=plan, seen=proposal.seen, accepted_at=accepted_at, accepted_by=accepted_by
    )
    put_away(proposal=proposal, closed_at=accepted_at)
    return acceptance


def put_away(*, proposal: Proposal, closed_at: datetime) -> None:
    """Close a proposal; what is planned stays as it is."""
    Proposal.objects.filter(pk=proposal.pk, closed_at__isnull=True).update(closed_at=closed_at)
