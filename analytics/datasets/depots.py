"""Depots as arrays, with the moment that `as_of` means at each."""

from __future__ import annotations

from dataclasses import dataclass
from zoneinfo import ZoneInfo

import numpy as np

from analytics.datasets.clock import AsOf, limit_day, local_day, moment_in
from analytics.datasets.columns import Floats, Ints
from fleetdoors.models import Depot

NO_DEPOT = -1


@dataclass(frozen=True)
class Depots:
    """Depots by code; one more row, the last, stands for "no depot", so that index -1 finds it."""

    ids: Ints
    codes: tuple[str, ...]
    zones: tuple[ZoneInfo, ...]
    settings: tuple[tuple[str, ...], ...]
    salt_seasons: tuple[tuple[str, str], ...]
    moment: Floats
    day: Floats
    limit_day: Ints

    def __len__(self) -> int:
        return len(self.codes) - 1

    def index_of(self, ids: Floats) -> Ints:
        """Row of each depot id; -1 where it is unknown."""
        lookup = dict(zip(self.ids.tolist(), range(len(self)), strict=True))
        return np.array([lookup.get(each, NO_DEPOT) for each in ids.tolist()], dtype=np.int64)


def fetch_depots(as_of: AsOf) -> Depots:
    """Every depot; runs one query."""
    rows = list(Depot.objects.order_by("code"))
    zones = (*(row.zone for row in rows), ZoneInfo("UTC"))
    moments = [moment_in(as_of, zone) for zone in zones]
    return Depots(
        ids=np.array([row.pk for row in rows], dtype=np.int64),
        codes=(*(row.code for row in rows), ""),
        zones=zones,
        settings=(*(row.settings_in_force for row in rows), ()),
        salt_seasons=(*((row.salt_from, row.salt_until) for row in rows), ("", "")),
        moment=np.array([moment.timestamp() for moment in moments]),
        day=np.array([local_day(m, zone) for m, zone in zip(moments, zones, strict=True)]),
        limit_day=np.array([limit_day(as_of, zone) for zone in zones], dtype=np.int64),
    )
