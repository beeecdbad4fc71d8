"""A fleet that goes through a folder into an empty database needs the same parts as before."""

from __future__ import annotations

from pathlib import Path

import pytest

from fleetdoors.models import Depot, Part
from inspections.services.issuing import Said
from inspections.services.receiving import Delivered, receive_line
from tests import factories as make
from tests.analytics.asking import ask
from tests.analytics.test_figures_demand import COMPONENT, lived_in_depot
from tests.announced_factories import TODAY, make_campaign, make_new_trucks, make_other_use
from tests.inspections.test_fleet_folder_round_trip import goes_round
from tests.stock_factories import DAY, make_placed_order

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("recompute_requests")]
AS_OF = f"--as-of={TODAY}"


@pytest.fixture
def north() -> tuple[Depot, Part]:
    """A depot with doors that wear, some pieces on its shelf, and a clock of its own."""
    depot = make.make_depot(code="N", timezone="America/Chicago")
    part = make.make_part(part_number="CONV", component=make.component(COMPONENT))
    lived_in_depot(depot, part=part)
    make.make_stock_count(depot=depot, part=part, on_hand=2)
    return depot, part


def test_demand_is_the_same_with_what_is_ordered_and_what_came(
    tmp_path: Path, north: tuple[Depot, Part]
) -> None:
    depot, part = north
    before = ask("demand", AS_OF)
    for days in (60, 50, 40):
        order = make_placed_order(depot=depot, wanted={part: 3}, at=make.NOW - days * DAY)
        came = make.NOW - (days - 20) * DAY
        receive_line(
            line=order.lines.get(), delivered=Delivered(2), said=Said(at=came, entered_at=came)
        )
    ordered = ask("demand", AS_OF)
    assert ordered != before
    goes_round(tmp_path)
    assert ask("demand", AS_OF) == ordered


def test_demand_is_the_same_with_what_is_announced(
    tmp_path: Path, north: tuple[Depot, Part]
) -> None:
    depot, part = north
    plain = ask("demand", AS_OF)
    make_new_trucks(depot=depot, doors=12)
    make_other_use(depot=depot, factor=1.4, in_days=20, days=30)
    make_campaign(depot=depot, part=part)
    announced = ask("demand", AS_OF)
    assert announced != plain
    goes_round(tmp_path)
    assert ask("demand", AS_OF) == announced
