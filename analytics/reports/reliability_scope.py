"""The doors and failures that a reliability page speaks of."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from django.utils.translation import gettext as _

from analytics.assessment.groups import Group, Windows
from analytics.datasets.columns import Ints
from analytics.datasets.windows import (
    FailureRows,
    WindowRows,
    fetch_failure_rows,
    fetch_window_rows,
)
from fleetdoors.models import Component


@dataclass(frozen=True)
class Scope:
    """The rows a page speaks of: doors, failures, the components by id, and the one asked for."""

    doors: WindowRows
    failures: FailureRows
    components: dict[int, Component]
    component: Component | None

    @property
    def windows(self) -> Windows:
        """As the assessment takes them."""
        rows = self.failures
        return Windows(
            self.doors.start_cycles,
            self.doors.end_cycles,
            rows.door,
            rows.at_cycles,
            rows.component_id,
        )

    @property
    def cycles(self) -> float:
        """Cycles on record of all doors together."""
        return float((self.doors.end_cycles - self.doors.start_cycles).sum())

    @property
    def counted(self) -> Ints:
        """Which failures count: those of the component asked for, or all."""
        if self.component is None:
            return np.arange(len(self.failures))
        return np.flatnonzero(self.failures.component_id == self.component.pk)

    @property
    def whole(self) -> Group:
        """All doors with the failures that count."""
        return Group(None, np.arange(len(self.doors)), self.counted)

    def component_name(self, component_id: int) -> str:
        """In people's words."""
        known = self.components.get(component_id)
        return str(known) if known else _("component not noted")


def fetch_scope(depot_ids: tuple[int, ...] | None, component: Component | None) -> Scope:
    """The rows of the depots in sight; runs three queries."""
    doors = fetch_window_rows(depot_ids)
    failures = fetch_failure_rows(doors, depot_ids)
    known = {each.pk: each for each in Component.objects.order_by("name")}
    return Scope(doors, failures, known, component)
