"""Announced changes in the forecast of parts: the mean moves by what arithmetic says."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import numpy as np
import pytest

from analytics.assessment.exposure import assess_exposure
from analytics.assessment.usage import assess_fleet_usage
from analytics.assessment.whole import lives_of
from analytics.datasets import fetch_fleet
from analytics.models import PartOutlook
from analytics.recompute import recompute_fleet, recompute_outlooks
from fleetdoors.models import DoorUnit, Part
from inspections.services.announced_changes import cancel_announced
from tests import factories as make
from tests.analytics.asking import ask
from tests.analytics.test_figures_demand import COMPONENT, lived_in_depot
from tests.announced_factories import TODAY, make_campaign, make_new_trucks, make_other_use

pytestmark = pytest.mark.django_db
AS_OF = f"--as-of={TODAY}"
DAY = timedelta(days=1)


def mean(part: str, depot: str, horizon: int = 90, as_of: str = AS_OF) -> float:
    rows = ask("demand", as_of, f"--part={part}", f"--depot={depot}", f"--horizon={horizon}")
    return float(rows[0]["mean"])


def converter(number: str = "CONV", **facts: Any) -> Part:
    return make.make_part(part_number=number, component=make.component(COMPONENT), **facts)


def test_another_use_from_now_on_stretches_the_days() -> None:
    depot = make.make_depot(code="D")
    lived_in_depot(depot, part=converter())
    longer = mean("CONV", "D", 135)
    make_other_use(depot=depot, factor=1.5)
    assert mean("CONV", "D", 90) == pytest.approx(longer, rel=1e-9)


def test_another_use_counts_from_its_first_day_to_its_last() -> None:
    depot = make.make_depot(code="D")
    lived_in_depot(depot, part=converter())
    longer = mean("CONV", "D", 100)
    make_other_use(depot=depot, factor=1.5, in_days=30, days=20)
    assert mean("CONV", "D", 90) == pytest.approx(longer, rel=1e-9)
    assert mean("CONV", "D", 30) < longer


def test_another_use_concerns_its_depot_and_its_route_only() -> None:
    here, there = make.make_depot(code="HERE"), make.make_depot(code="THERE")
    part = converter()
    for depot in (here, there):
        lived_in_depot(depot, part=part, doors=15)
    before = {code: mean("CONV", code, 30) for code in ("HERE", "THERE")}
    make_other_use(depot=here, factor=1.4)
    make_other_use(depot=there, factor=1.4, route_kind="no such route")
    assert mean("CONV", "HERE", 30) > 1.2 * before["HERE"]
    assert mean("CONV", "THERE", 30) == before["THERE"]


def test_a_route_moves_the_demand_by_its_share_of_the_use() -> None:
    """Half of the doors run twice as much: the depot's days count one and a half times."""
    depot, part = make.make_depot(code="D"), converter()
    lived_in_depot(depot, part=part)
    trucks = list(depot.trucks.order_by("pk"))
    for truck in trucks[::2]:
        truck.route_kind = "urban"
        truck.save()
    plain = mean("CONV", "D", 90)
    longer = mean("CONV", "D", 135)
    make_other_use(factor=2.0, route_kind="urban")
    shifted = mean("CONV", "D", 90)
    assert shifted == pytest.approx(longer, rel=0.05)
    assert shifted > plain


def test_new_trucks_bring_parts_that_wear_from_their_first_day() -> None:
    depot, model = make.make_depot(code="D"), make.make_door_model()
    lived_in_depot(depot, part=converter(), door_model=model)
    before = mean("CONV", "D", 180)
    make_new_trucks(depot=depot, door_model=model, doors=10, cycles_per_day=80, in_days=30)
    fleet = fetch_fleet(TODAY)
    usage = assess_fleet_usage(fleet)
    (life,) = lives_of(fleet, usage, assess_exposure(fleet, usage.series))
    assert life.of_wear is not None
    draws = life.of_wear.draws()
    run = 150 * 80.0 / draws.scale_cycles
    fails = -np.expm1(-(run**draws.shape))
    # Each new converter fails for the first time; a second time at most as often as twice in a row.
    added = mean("CONV", "D", 180) - before
    assert 10 * np.mean(fails) <= added <= 10 * np.mean(fails + fails**2)


def test_new_trucks_after_the_horizon_change_nothing_and_twice_as_many_twice_as_much() -> None:
    depot, model = make.make_depot(code="D"), make.make_door_model()
    lived_in_depot(depot, part=converter(), door_model=model)
    before = mean("CONV", "D")
    far = make_new_trucks(depot=depot, door_model=model, in_days=91)
    assert mean("CONV", "D") == pytest.approx(before, rel=1e-12)
    make_new_trucks(depot=depot, door_model=model, cycles_per_day=200)
    once = mean("CONV", "D") - before
    make_new_trucks(depot=depot, door_model=model, cycles_per_day=200)
    assert mean("CONV", "D") - before == pytest.approx(2 * once, rel=1e-9)
    assert once > 1
    assert far.is_standing


def test_where_only_past_use_is_known_new_trucks_add_their_share_of_the_cycles() -> None:
    depot, part = make.make_depot(code="D"), make.make_part(part_number="SEAL")
    lived_in_depot(depot, doors=10)
    doors = list(DoorUnit.objects.order_by("pk"))
    for week in range(1, 41):
        make.make_part_used(
            door=doors[week % 10],
            part=part,
            used_at=make.NOW - timedelta(weeks=week),
        )
    before = mean("SEAL", "D", 90)
    assert before > 0
    make_new_trucks(depot=depot, doors=5, cycles_per_day=40, in_days=45)
    added = mean("SEAL", "D", 90) - before
    # Ten doors run about 400 a day; five at 40 run half of that, in half of the days.
    assert added == pytest.approx(before * 0.5 * 0.5, rel=0.05)


def test_new_trucks_that_are_on_record_are_announced_no_longer() -> None:
    depot, model = make.make_depot(code="D"), make.make_door_model()
    lived_in_depot(depot, part=converter(), door_model=model)
    before = mean("CONV", "D")
    make_new_trucks(depot=depot, door_model=model, doors=4, cycles_per_day=200)
    four = mean("CONV", "D") - before
    for _new in range(3):
        make.make_door(depot=depot, door_model=model, record_from=TODAY - DAY)
    assert 0 < mean("CONV", "D") - before < 0.4 * four


def test_a_campaign_adds_its_pieces_to_what_is_fitted_in_the_end() -> None:
    depot, old, new = make.make_depot(code="D"), converter("OLD"), converter("NEW")
    make_campaign(depot=depot, part=old, new_part=new, doors=12, pieces=2, in_days=10, days=40)
    assert mean("NEW", "D", 10) == pytest.approx(0)
    assert mean("NEW", "D", 30) == pytest.approx(12.0)
    assert mean("NEW", "D", 90) == pytest.approx(24.0)
    assert mean("OLD", "D", 90) == 0
    row = ask("demand", AS_OF, "--part=NEW", "--depot=D")[0]
    assert (row["p05"], row["p95"]) == (24, 24)
    assert "Of this, 24.0 from announced changes." in row["reason"]


def test_what_is_cancelled_or_was_not_yet_announced_has_no_effect() -> None:
    depot, part = make.make_depot(code="D"), converter()
    change = make_campaign(depot=depot, part=part, at=make.NOW - 10 * DAY)
    assert mean("CONV", "D") == pytest.approx(24.0)
    cancel_announced(change=change, reason="Put off", at=make.NOW - 3 * DAY)
    assert mean("CONV", "D") == 0
    assert mean("CONV", "D", as_of=f"--as-of={TODAY - 5 * DAY}") == pytest.approx(24.0)
    assert mean("CONV", "D", as_of=f"--as-of={TODAY - 20 * DAY}") == 0


def test_outlooks_that_are_shown_follow_an_announcement(
    recompute_requests: list[tuple[int, ...]],
) -> None:
    depot, part = make.make_depot(code="D"), converter()
    run = recompute_fleet(as_of=make.NOW, started_at=make.NOW)
    assert PartOutlook.objects.get().mean == 0
    make_campaign(depot=depot, part=part)
    assert recompute_outlooks(as_of=make.NOW + timedelta(hours=1)) == 1
    row = PartOutlook.objects.get()
    assert (row.generation, row.mean) == (run, pytest.approx(24.0))
    assert row.explanation["announced_campaign"] == pytest.approx(24.0)
    assert row.order_up_to >= 0


def test_what_is_announced_while_a_run_computes_is_taken_up_at_its_end() -> None:
    depot, part = make.make_depot(code="D"), converter()
    # Entered after the moment that the run knows, before it is shown.
    make_campaign(depot=depot, part=part, at=make.NOW)
    recompute_fleet(as_of=make.NOW, started_at=make.NOW)
    assert PartOutlook.objects.get().mean == pytest.approx(24.0)


def test_before_the_first_run_there_is_nothing_to_recompute() -> None:
    assert recompute_outlooks(as_of=make.NOW) == 0
