"""A week in which one cause took many parts at once is foreseen apart from wear."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
import pytest

from analytics.assessment.shocks import find_shocks, shock_demand
from analytics.datasets import fetch_fleet
from fleetdoors.models import Depot, Part
from tests.analytics.asking import ask
from tests.factories import component, make_depot, make_fitment, make_part
from tests.pages.running_fleet import CYCLES_A_WEEK, FIRST_READ, make_running_door

pytestmark = pytest.mark.django_db
BEGUN = FIRST_READ.date()
ON = BEGUN + timedelta(weeks=79)
BATCH_WEEK, BATCH = 60, 9


def fuse_fails(door: object, part: Part, weeks: list[float]) -> None:
    """Fuses that failed one after another after so many weeks, and one that still runs."""
    start = 0.0
    for end in [*weeks, None]:
        ended = {} if end is None else _removed(end)
        make_fitment(
            door=door,
            component=component("fuse"),
            part=part,
            fitted_on=BEGUN + timedelta(weeks=start),
            fitted_at_cycles=round(start * CYCLES_A_WEEK),
            **ended,
        )
        start = end or start


def _removed(week: float) -> dict[str, object]:
    return {
        "removed_on": BEGUN + timedelta(weeks=week),
        "removed_at_cycles": round(week * CYCLES_A_WEEK),
        "removal": "failed",
    }


def make_fleet_of_fuses(*, with_batch: bool) -> Depot:
    """Thirty doors whose fuses fail now and then; nine of them within one week besides."""
    depot, part = make_depot(code="HIT"), make_part(component=component("fuse"))
    rng = np.random.default_rng(4)
    for k in range(30):
        door = make_running_door(depot=depot)
        weeks = [float(rng.uniform(1, 78))]
        if with_batch and k < BATCH:
            weeks = sorted([*weeks, BATCH_WEEK + 0.1 * k])
        fuse_fails(door, part, weeks)
    return depot


def fuse_row(day: date = ON) -> dict[str, object]:
    return next(row for row in ask("demand", f"--as-of={day}") if row["method"] == "installed base")


def test_the_batch_is_found_and_its_lives_are_no_wear() -> None:
    make_fleet_of_fuses(with_batch=True)
    fleet = fetch_fleet(ON)
    shocks = find_shocks(fleet, component("fuse").pk)
    assert shocks.batches.sizes.sum() == shocks.ended.sum()
    assert BATCH - 2 <= shocks.ended.sum() <= BATCH + 2  # a week on the grid may cut some off
    assert not find_shocks(fleet, component("converter").pk)
    mean, variance = shock_demand(shocks, np.array([0.0, 70.0]))
    assert (mean[0], variance[0]) == (0.0, 0.0)
    assert variance[1] > mean[1] > 0


def test_demand_says_so_and_life_counts_every_failure() -> None:
    make_fleet_of_fuses(with_batch=True)
    row = fuse_row()
    assert "In 1 week one cause took about" in row["reason"]
    life = next(each for each in ask("life", f"--as-of={ON}") if each["component"] == "fuse")
    assert life["failures"] == 30 + BATCH


def test_before_it_happened_nobody_knew() -> None:
    make_fleet_of_fuses(with_batch=True)
    before = fuse_row(BEGUN + timedelta(weeks=BATCH_WEEK - 1))
    assert "one cause" not in before["reason"]


def test_without_a_batch_nothing_is_kept_apart() -> None:
    make_fleet_of_fuses(with_batch=False)
    assert "one cause" not in fuse_row()["reason"]
