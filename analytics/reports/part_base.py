"""The fitted parts that a part will replace at a depot, and the doors that drive the need."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from datetime import datetime

import numpy as np
from django.urls import reverse
from django.utils.translation import gettext as _

from analytics.assessment.installed_base import successor_of, usual_part
from analytics.assessment.position_demand import expected_by_position
from analytics.charts.demand import positions_by_age
from analytics.charts.picture import Picture
from analytics.datasets.catalogue import Parts, fetch_parts
from analytics.datasets.part_use import used_in_last_year
from analytics.datasets.positions import NO_PART, FittedParts, fetch_fitted_parts
from analytics.kernel.posterior import WeibullDraws
from analytics.models import PartOutlook
from fleetdoors.templatetags.units import between, number, per_day

DOORS_SHOWN = 12
AGE_BANDS = 12


@dataclass(frozen=True)
class DrivingDoor:
    """A door with what is expected of it."""

    label: str
    url: str
    age: str
    per_day: str
    expected: str


def fetch_base(outlook: PartOutlook, *, now: datetime) -> FittedParts | None:
    """Positions that the part will serve at the depot; None without component; queries 5 times."""
    part, depot = outlook.part, outlook.depot
    if part.component is None:
        return None
    fitted = fetch_fitted_parts(part.component, (depot.pk,))
    parts = fetch_parts()
    used = used_in_last_year(depot, until=now)
    use = np.array([float(used.get(each, 0)) for each in parts.ids.tolist()])
    wanted = int(parts.index_of(np.array([part.pk]))[0])
    served = _serving(parts, fitted, part.component.pk, use)
    return fitted.chosen(np.flatnonzero(served == wanted))


def _serving(parts: Parts, fitted: FittedParts, component: int, use: np.ndarray) -> np.ndarray:
    """Row of the part that will replace each fitted one."""
    own = parts.index_of(fitted.part_id)
    return np.array(
        [
            successor_of(parts, at, model)
            if at != NO_PART
            else usual_part(parts, component, model, use)
            for at, model in zip(own.tolist(), fitted.models, strict=True)
        ],
        dtype=np.int64,
    )


def driving_doors(base: FittedParts, draws: WeibullDraws, days: float) -> list[DrivingDoor]:
    """The doors of which most is expected within the days."""
    expected = expected_by_position(draws, base, days)
    of_door: dict[str, list[int]] = defaultdict(list)
    for row, serial in enumerate(base.serials):
        of_door[serial].append(row)
    worst = sorted(of_door.items(), key=lambda item: -expected[item[1]].sum())[:DOORS_SHOWN]
    return [_door(base, serial, rows, float(expected[rows].sum())) for serial, rows in worst]


def _door(base: FittedParts, serial: str, rows: list[int], expected: float) -> DrivingDoor:
    truck = base.trucks[rows[0]]
    return DrivingDoor(
        label=_("Truck %(truck)s, door %(door)s") % {"truck": truck, "door": serial}
        if truck
        else _("Door %(door)s") % {"door": serial},
        url=reverse("door-detail", args=[serial]),
        age=", ".join(_age(float(base.age_cycles[row])) for row in rows),
        per_day=per_day(float(base.cycles_per_day[rows[0]])),
        expected=number(expected, 2),
    )


def _age(age: float) -> str:
    return _("age unknown") if np.isnan(age) else number(age)


def ages_picture(base: FittedParts) -> Picture | None:
    """How old the fitted parts are; None where no age is known."""
    known = base.age_cycles[~np.isnan(base.age_cycles)]
    if len(known) == 0:
        return None
    counts, edges = np.histogram(known, bins=AGE_BANDS, range=(0.0, max(float(known.max()), 1.0)))
    return Picture(
        id="fitted-ages",
        finding=_("%(n)s fitted, half of them older than %(age)s cycles")
        % {"n": number(len(base)), "age": number(float(np.median(known)))},
        note=_("%(unknown)s more of unknown age are not drawn.")
        % {"unknown": number(len(base) - len(known))}
        if len(known) < len(base)
        else _("The age of each is known."),
        figure=positions_by_age(edges, counts),
        headings=[_("Age, cycles"), _("Fitted parts")],
        rows=[
            [between(float(edges[k]), float(edges[k + 1])), number(int(counts[k]))]
            for k in range(len(counts))
        ],
    )
