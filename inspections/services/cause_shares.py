"""How often each cause is it: what is usual, what the fleet says, what its faults have shown."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from django.db import transaction
from django.db.models import Count, QuerySet
from django.utils.translation import gettext as _

from fleetdoors.models import Depot, User
from inspections.models import CauseShare, Fault
from inspections.services.corrections import sign, supersede
from inspections.tracing.likelihood import GROUP_OF_COMPONENT, GROUPS, priors_from_closed

# From so many repaired faults on, a depot's own frequencies count; below, the fleet's alone.
DEPOT_ENOUGH = 30
# How far from a hundred the shares may add up: nobody types nine exact numbers.
ADDS_UP_WITHIN = 0.5


class CauseShareRefusedError(ValueError):
    """The shares cannot stand; nothing was changed."""


@dataclass(frozen=True)
class CauseBasis:
    """The shares that a trace begins with, by group, and what they rest on."""

    shares: Mapping[str, float]
    said: Mapping[str, float]
    closed: Mapping[str, int]
    closed_at_depot: Mapping[str, int]
    depot: Depot | None

    @property
    def faults(self) -> int:
        """Repaired faults of the fleet that count."""
        return sum(self.closed.values())

    @property
    def faults_at_depot(self) -> int:
        """Those of them on doors of the depot."""
        return sum(self.closed_at_depot.values())

    @property
    def uses_depot(self) -> bool:
        """Whether the depot has enough of its own."""
        return self.faults_at_depot >= DEPOT_ENOUGH


def cause_basis(depot: Depot | None) -> CauseBasis:
    """The shares at a depot, or in the fleet; queries three times.

    The fleet's repaired faults take over what was said, and the depot's those of the fleet.
    """
    said = shares_said()
    repaired = Fault.objects.failures().exclude(action="")
    closed = _by_group(repaired)
    there = _by_group(_at(repaired, depot)) if depot else Counter()
    shares = priors_from_closed(closed, said)
    if sum(there.values()) >= DEPOT_ENOUGH:
        shares = priors_from_closed(there, shares)
    return CauseBasis(shares, said, closed, there, depot)


def shares_said() -> dict[str, float]:
    """What the fleet's people say, or what is usual where they say nothing; queries once."""
    rows = CauseShare.objects.in_force().values_list("group", "percent")
    usual = {code: group.prior * 100 for code, group in GROUPS.items()}
    return usual | {group: percent for group, percent in rows if group in GROUPS}


@transaction.atomic
def say_shares(
    *, percent: Mapping[str, float], reason: str, entered_at: datetime, entered_by: User
) -> list[CauseShare]:
    """Put other shares in the place of those said; returns the rows that changed."""
    before = shares_said()
    if set(percent) != set(GROUPS):
        raise CauseShareRefusedError(_("Every cause has a share."))
    total = sum(percent.values())
    if abs(total - 100) > ADDS_UP_WITHIN:
        raise CauseShareRefusedError(
            _("The shares add up to 100 %%: these add up to %(total)g %%.") % {"total": total}
        )
    if min(percent.values()) <= 0:
        raise CauseShareRefusedError(_("No cause is ruled out: every share is above 0."))
    if not reason.strip():
        raise CauseShareRefusedError(_("Say why the shares change: the reason is empty."))
    standing = {row.group: row for row in CauseShare.objects.in_force().select_for_update()}
    rows = []
    for group, share in percent.items():
        if share == before[group]:
            continue
        old = standing.get(group)
        if old:
            supersede(old, reason=reason, entered_at=entered_at)
        row = CauseShare(group=group, percent=share)
        sign(row, corrects=old, reason=reason, by=entered_by, at=entered_at)
        row.save()
        rows.append(row)
    return rows


def _at(faults: QuerySet[Fault], depot: Depot) -> QuerySet[Fault]:
    """Faults of the doors that are at the depot now."""
    return faults.filter(
        door__mountings__removed_on__isnull=True, door__mountings__truck__depot=depot
    )


def _by_group(faults: QuerySet[Fault]) -> Counter[str]:
    rows = faults.exclude(component=None).order_by().values_list("component__code")
    closed: Counter[str] = Counter()
    for code, times in rows.annotate(times=Count("pk", distinct=True)):
        if code in GROUP_OF_COMPONENT:
            closed[GROUP_OF_COMPONENT[code]] += times
    return closed
