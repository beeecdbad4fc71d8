"""How often each cause is it: what is usual, what the fleet says, what its faults have shown."""

from datetime import timedelta

import pytest

from fleetdoors.models import Depot
from inspections.models import CauseShare
from inspections.services.cause_shares import (
    DEPOT_ENOUGH,
    CauseShareRefusedError,
    cause_basis,
    say_shares,
    shares_said,
)
from inspections.tracing.likelihood import GROUPS
from tests.factories import NOW, component, make_depot, make_door, make_fault, make_user

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("recompute_requests")]
USUAL = {code: group.prior for code, group in GROUPS.items()}


def repaired(count: int, code: str, depot: Depot | None = None) -> None:
    door = make_door(depot=depot or make_depot())
    for number in range(count):
        make_fault(
            door=door,
            component=component(code),
            action="replace",
            found_at=NOW - timedelta(hours=number),
        )


def said(**changes: float) -> dict[str, float]:
    return {code: share * 100 for code, share in USUAL.items()} | changes


def test_without_a_word_or_a_fault_it_is_what_is_usual() -> None:
    basis = cause_basis(None)
    assert basis.shares == pytest.approx(USUAL)
    assert (basis.faults, basis.uses_depot) == (0, False)


def test_what_the_fleet_says_takes_the_place_of_what_is_usual() -> None:
    rows = say_shares(
        percent=said(remote=8.0, cable=24.0),
        reason="ten years of parcel vans",
        entered_at=NOW,
        entered_by=make_user(),
    )
    assert {row.group for row in rows} == {"remote", "cable"}
    assert cause_basis(None).shares["cable"] == pytest.approx(0.24)


def test_a_second_word_stands_beside_the_first() -> None:
    person = make_user()
    say_shares(percent=said(remote=8.0, cable=24.0), reason="a", entered_at=NOW, entered_by=person)
    say_shares(
        percent=said(remote=18.0, cable=14.0),
        reason="b",
        entered_at=NOW + timedelta(days=1),
        entered_by=person,
    )
    assert shares_said()["cable"] == 14.0
    old = CauseShare.objects.get(group="cable", percent=24.0)
    assert old.superseded_at == NOW + timedelta(days=1)
    assert old.correction.reason == "b"


@pytest.mark.parametrize(
    ("percent", "reason", "says"),
    [
        (said(cable=30.0), "why", "add up to 116"),
        (said(cable=0.0, remote=32.0), "why", "above 0"),
        (said(), " ", "reason is empty"),
        ({"cable": 100.0}, "why", "Every cause"),
    ],
)
def test_shares_that_cannot_stand_change_nothing(percent: dict, reason: str, says: str) -> None:
    with pytest.raises(CauseShareRefusedError, match=says):
        say_shares(percent=percent, reason=reason, entered_at=NOW, entered_by=make_user())
    assert not CauseShare.objects.exists()


def test_the_fleets_own_repaired_faults_take_over() -> None:
    repaired(10, "coil_cable")
    # (n + 10 p) / (N + 10), n = N = 10.
    basis = cause_basis(None)
    assert basis.shares["cable"] == pytest.approx((10 + 10 * USUAL["cable"]) / 20)
    assert (basis.faults, basis.closed) == (10, {"cable": 10})


def test_a_depot_counts_by_itself_once_it_has_enough() -> None:
    north, south = make_depot(), make_depot()
    repaired(40, "fuse", south)
    repaired(DEPOT_ENOUGH - 1, "motor", north)
    few = cause_basis(north)
    assert not few.uses_depot
    assert few.shares == pytest.approx(cause_basis(None).shares)
    repaired(1, "motor", north)
    enough, fleet = cause_basis(north), cause_basis(None)
    assert enough.uses_depot
    assert enough.shares["motor"] == pytest.approx(
        (DEPOT_ENOUGH + 10 * fleet.shares["motor"]) / (DEPOT_ENOUGH + 10)
    )
    assert enough.shares["motor"] > fleet.shares["motor"]
    assert sum(enough.shares.values()) == pytest.approx(1)


def test_a_fault_not_repaired_or_of_no_cause_group_is_not_counted() -> None:
    door = make_door()
    make_fault(door=door, component=component("motor"))
    make_fault(door=door, component=component("counter"), action="replace")
    make_fault(door=door, component=component("motor"), action="none_found", is_failure=False)
    assert cause_basis(None).faults == 0
