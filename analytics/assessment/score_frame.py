"""Where doors and days of the score belong: groups of doors, and months."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analytics.datasets.columns import Floats, Ints


@dataclass(frozen=True)
class Frame:
    """Groups of the doors, and the edges of the months as epoch days."""

    group: Ints
    groups: int
    edges: Floats

    def by_day(self, door: Ints, day: Floats, amount: Floats | None = None) -> Floats:
        """Sums of what happened to doors on days, (groups, months)."""
        month = np.searchsorted(self.edges, day, side="right") - 1
        months = len(self.edges) - 1
        inside = (month >= 0) & (month < months)
        cell = self.group[door[inside]] * months + month[inside]
        weight = None if amount is None else amount[inside]
        total = np.bincount(cell, weight, self.groups * months)
        return total.astype(float).reshape(self.groups, months)

    def of_doors(self, values: Floats) -> Floats:
        """Sums of what is known by door and month, (n, m), as (groups, m)."""
        return np.stack(
            [np.bincount(self.group, column, self.groups) for column in values.T.astype(float)],
            axis=1,
        )
