"""Everything that the reliability page is worked out from, as arrays."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from analytics.datasets.columns import Floats, Ints
from analytics.datasets.period_use import PeriodUseRows, fetch_period_use
from analytics.datasets.windows import (
    FailureRows,
    WindowRows,
    fetch_failure_rows,
    fetch_window_rows,
)


@dataclass(frozen=True)
class Grouped:
    """Names of groups, the unnamed one last; the group of each door and of each use (-1 = none)."""

    names: tuple[str, ...]
    door: Ints
    use: Ints


def _grouped(of_doors: tuple[str, ...], of_uses: tuple[str, ...]) -> Grouped:
    names = tuple(sorted(set(of_doors), key=lambda name: (not name, name)))
    place = {name: k for k, name in enumerate(names)}
    return Grouped(
        names,
        np.array([place[name] for name in of_doors], dtype=np.int64),
        np.array([place.get(name, -1) for name in of_uses], dtype=np.int64),
    )


@dataclass(frozen=True)
class ReliabilityRows:
    """Doors with their windows, their failures, and what groups of them ran by period."""

    doors: WindowRows
    failures: FailureRows
    uses: PeriodUseRows

    @cached_property
    def window_cycles(self) -> Floats:
        """Cycles on record of each door, (n,)."""
        return self.doors.end_cycles - self.doors.start_cycles

    @cached_property
    def by_model(self) -> Grouped:
        """Doors and uses by door model."""
        return _grouped(self.doors.models, self.uses.models)

    @cached_property
    def by_depot(self) -> Grouped:
        """Doors and uses by depot."""
        return _grouped(self.doors.depots, self.uses.depots)

    @cached_property
    def by_route(self) -> Grouped:
        """Doors and uses by kind of route."""
        return _grouped(self.doors.routes, self.uses.routes)

    @cached_property
    def modes(self) -> tuple[tuple[str, ...], Ints]:
        """Modes noted (empty = none), and the place among them of each failure's."""
        known, place = np.unique(np.array(self.failures.mode, dtype=str), return_inverse=True)
        return tuple(known.tolist()), place.ravel()

    def counted(self, component_id: int | None) -> Ints:
        """Which failures count: those of the component, or all."""
        if component_id is None:
            return np.arange(len(self.failures))
        return np.flatnonzero(self.failures.component_id == component_id)


def fetch_reliability_rows(depot_ids: tuple[int, ...] | None) -> ReliabilityRows:
    """The rows of the depots, as the shown run worked them out; runs three queries."""
    doors = fetch_window_rows(depot_ids)
    return ReliabilityRows(doors, fetch_failure_rows(doors, depot_ids), fetch_period_use(depot_ids))
