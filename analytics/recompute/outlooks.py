"""The outlooks of parts anew, inside the generation that is shown: announced changes came."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from django.db import transaction
from django.db.models import Q

from analytics.assessment.announced import Foreseen, with_announced
from analytics.assessment.demand import assess_demand
from analytics.assessment.demand_terms import Demand
from analytics.assessment.exposure import assess_exposure
from analytics.assessment.learned import usage_by
from analytics.assessment.outlook import Outlook, assess_outlooks
from analytics.assessment.parameters import FleetParameters
from analytics.assessment.whole import HORIZON_DAYS, foreseen_base, lives_of
from analytics.datasets import fetch_fleet, fetch_parts_record
from analytics.datasets.announced import fetch_announced
from analytics.datasets.demand_factors import fetch_demand_factors
from analytics.models import Computation, PartOutlook
from analytics.recompute.fleet_rows import outlook_columns
from analytics.recompute.store import insert_columns
from inspections.models import AnnouncedChange

# Whoever announces meanwhile has their change taken up by one more round.
ROUNDS = 3


@dataclass(frozen=True)
class Ground:
    """What the outlooks of a moment rest on, and the demand of the fleet as it is."""

    base: Foreseen
    demands: list[Demand]

    def outlooks(self, also: Sequence[AnnouncedChange] = ()) -> list[Outlook]:
        """Every outlook with what was announced, and with changes that are only tried."""
        doors, record = self.base.fleet.doors, self.base.record
        if also:
            record = replace(record, announced=fetch_announced(doors, record.parts, also))
        demands = with_announced(self.demands, replace(self.base, record=record))
        return assess_outlooks(doors, record, demands, HORIZON_DAYS)


def fetch_ground(run: Computation, *, as_of: datetime) -> Ground:
    """The record as of now, followed by the parameters of the run that is shown."""
    fleet = fetch_fleet(as_of)
    usage = usage_by(fleet, FleetParameters.from_json(run.parameters))
    exposure = assess_exposure(fleet, usage.series)
    base = foreseen_base(
        fleet,
        fetch_parts_record(fleet.doors),
        usage,
        exposure,
        lives=lives_of(fleet, usage, exposure),
        factors=fetch_demand_factors(as_of),
    )
    demands = assess_demand(fleet, base.record, base.positions, base.lives, base.factors)
    return Ground(base, demands)


def recompute_outlooks(*, as_of: datetime) -> int:
    """Replace the outlooks that are shown; returns how many there are, 0 before the first run."""
    for _round in range(ROUNDS):
        run = Computation.objects.current().first()
        # Figures of a past day keep what was known on it.
        if run is None or run.as_of_on is not None:
            return 0
        seen = _announced_mark()
        ground = fetch_ground(run, as_of=as_of)
        outlooks = ground.outlooks()
        if _replace(run, ground, outlooks, seen):
            return len(outlooks)
    return 0


def catch_up_outlooks(run: Computation) -> None:
    """Take up what was announced or cancelled while a run was computed; queries once."""
    since = Q(entered_at__gte=run.started_at) | Q(cancelled_at__gte=run.started_at)
    if run.finished_at and run.is_current and AnnouncedChange.objects.filter(since).exists():
        recompute_outlooks(as_of=run.finished_at)


@transaction.atomic
def _replace(
    run: Computation, ground: Ground, outlooks: list[Outlook], seen: list[tuple[int, bool]]
) -> bool:
    """Whether the rows were written; not if another run is shown or more was announced."""
    shown = Computation.objects.select_for_update().filter(pk=run.pk, is_current=True)
    if not shown.exists() or _announced_mark() != seen:
        return False
    PartOutlook.objects.filter(generation=run).delete()
    base = ground.base
    insert_columns(
        PartOutlook, outlook_columns(run.pk, base.fleet, base.record, outlooks, HORIZON_DAYS)
    )
    return True


def _announced_mark() -> list[tuple[int, bool]]:
    """What is announced, and what of it is cancelled."""
    rows = AnnouncedChange.objects.order_by("pk").values_list("pk", "cancelled_at")
    return [(key, cancelled is not None) for key, cancelled in rows]
