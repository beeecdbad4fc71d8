"""At which place of its door each part was fitted, where a door has several for a component."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from django.db.models import Value, When

from analytics.datasets.columns import CodeOf, Ints, column, fetch_table
from fleetdoors.models import Fitment

# Further names are slips of the pen, and no comparison.
MOST_PLACES = 40


@dataclass(frozen=True)
class Places:
    """Fitments with a named place, by id: the place of each, and the names of the places."""

    fitment_id: Ints
    place: Ints
    names: tuple[str, ...]

    def of(self, fitment_ids: Ints) -> Ints:
        """Place of each fitment, -1 where none is named."""
        if not len(self.fitment_id):
            return np.full(len(fitment_ids), -1)
        at = np.minimum(np.searchsorted(self.fitment_id, fitment_ids), len(self.fitment_id) - 1)
        return np.where(self.fitment_id[at] == fitment_ids, self.place[at], -1)


def fetch_places() -> Places:
    """Every named place; runs two queries."""
    named = Fitment.objects.exclude(position="")
    names = tuple(
        named.order_by("position").values_list("position", flat=True).distinct()[:MOST_PLACES]
    )
    if not names:
        return Places(np.zeros(0, np.int64), np.zeros(0, np.int64), ())
    code = CodeOf(*(When(position=name, then=Value(k)) for k, name in enumerate(names)),
                  default=Value(-1))  # fmt: skip
    rows = fetch_table(named, {"id": ("pk", np.int64), "place": (code, np.int64)})
    rows = rows[np.argsort(rows["id"])]
    return Places(column(rows, "id"), column(rows, "place"), names)
