"""A new revision of a part has a life of its own in the forecast of demand."""

from __future__ import annotations

from datetime import timedelta

import pytest

from analytics.datasets.catalogue import fetch_parts
from fleetdoors.models import Part
from tests import factories as make
from tests.analytics.asking import ask

pytestmark = pytest.mark.django_db
AS_OF = f"--as-of={make.NOW.date()}"
RATE = 40


def run_door(depot, *, number: int, parts: tuple[Part, Part], ages: tuple[int, int]) -> None:
    """A door whose first converter failed at one age, the second at another; a third runs."""
    days = 728
    begun = (make.NOW - timedelta(days=days)).date()
    door = make.make_door(depot=depot, record_from=begun)
    make.make_readings(
        door=door,
        values=[RATE * 14 * k for k in range(1, 52)],
        first_at=make.NOW - timedelta(days=days - 14),
        days_between=14,
    )
    at, fitted = 0, begun
    for part, age in zip(parts, ages, strict=True):
        common = {"door": door, "component": make.component("converter"), "part": part}
        ended = at + age + 40 * number
        day = begun + timedelta(days=ended // RATE)
        make.make_fitment(
            **common,
            fitted_on=fitted,
            fitted_at_cycles=at,
            removed_on=day,
            removed_at_cycles=ended,
            removal="failed",
        )
        at, fitted = ended, day
    make.make_fitment(**common, fitted_on=fitted, fitted_at_cycles=at)


def two_revisions(*, linked: bool) -> tuple[Part, Part]:
    converter = make.component("converter")
    old = make.make_part(part_number="CONV-A", component=converter)
    new = make.make_part(part_number="CONV-B", component=converter)
    if linked:
        new.replaces = old
        new.save()
    return old, new


def forecast_of(number: str) -> dict:
    rows = {row["part"]: row for row in ask("demand", AS_OF)}
    return rows[number]


def test_what_is_fitted_fails_by_the_life_of_its_own_revision() -> None:
    depot = make.make_depot(code="HERE")
    old, new = two_revisions(linked=True)
    for number in range(24):
        run_door(depot, number=number, parts=(old, new), ages=(16_000, 6_000))
    told = forecast_of("CONV-B")
    assert "24 of them are of a later revision" in told["reason"]
    new.replaces = None
    new.save()
    together = forecast_of("CONV-B")
    assert "later revision" not in together["reason"]
    # The new one lasts 6,000 to 7,000 cycles, the old one more than twice as long.
    assert told["mean"] > 1.25 * together["mean"]


def test_a_part_counts_those_it_came_after_and_a_circle_ends() -> None:
    first, second = two_revisions(linked=True)
    third = make.make_part(part_number="CONV-C", component=make.component("converter"))
    third.replaces = second
    third.save()
    parts = fetch_parts()
    assert dict(zip(parts.numbers, parts.revision.tolist(), strict=True)) == {
        "CONV-A": 0,
        "CONV-B": 1,
        "CONV-C": 2,
    }
    first.replaces = third
    first.save()
    assert fetch_parts().revision.tolist() == [2, 2, 2]
