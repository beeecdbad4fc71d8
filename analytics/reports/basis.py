"""What a page's figures rest on: the run behind them, and the day on which they are read."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, tzinfo
from zoneinfo import ZoneInfo

from analytics.models import Computation
from fleetdoors.models import Depot


@dataclass(frozen=True)
class Basis:
    """The run whose rows are shown (None before the first) and today's date."""

    run: Computation | None
    computed_on: date
    today: date

    @property
    def is_behind(self) -> bool:
        """Whether a day or more has passed since the figures were computed."""
        return self.computed_on < self.today


def basis_at(depot_ids: tuple[int, ...] | None, *, now: datetime) -> Basis:
    """The run that is shown, and the day it is at the depots in sight; queries twice.

    Where their dates differ it is the earlier one: nothing is late before its day has ended.
    """
    depots = Depot.objects.all() if depot_ids is None else Depot.objects.filter(pk__in=depot_ids)
    names = depots.order_by().values_list("timezone", flat=True).distinct()
    zones = [ZoneInfo(name) for name in names] or [ZoneInfo("UTC")]
    return _basis(min(zones, key=lambda zone: now.astimezone(zone).date()), now)


def basis_for(depot_ids: tuple[int, ...] | None, chosen: int | None, *, now: datetime) -> Basis:
    """As `basis_at`; of one depot alone, where a person chose one that is in sight."""
    is_in_sight = chosen is not None and (depot_ids is None or chosen in depot_ids)
    return basis_at((chosen,) if is_in_sight and chosen is not None else depot_ids, now=now)


def basis_in(zone: tzinfo, *, now: datetime) -> Basis:
    """The run that is shown, and the day it is in the zone; queries once."""
    return _basis(zone, now)


def _basis(zone: tzinfo, now: datetime) -> Basis:
    run = Computation.objects.current().first()
    today = now.astimezone(zone).date()
    if run is None:
        return Basis(None, today, today)
    return Basis(run, run.as_of_on or run.as_of.astimezone(zone).date(), today)
