"""Stock now is the latest count less what was drawn since."""

from datetime import timedelta

import pytest
from pytest_django import DjangoAssertNumQueries

from fleetdoors.models import Part
from inspections.models import StockCount
from inspections.services.issuing import Said
from inspections.services.ledger import place_of_depot
from inspections.services.receiving import Delivered, receive_without_order
from inspections.services.stock import Counted, StockCountRefusedError, record_count
from inspections.services.stock_now import on_hand_now, stock_of
from tests.factories import (
    NOW,
    make_depot,
    make_door,
    make_part,
    make_part_used,
    make_stock_count,
    make_user,
)

pytestmark = pytest.mark.django_db
HOUR = timedelta(hours=1)


def test_record_count_keeps_the_count_and_its_author() -> None:
    depot, part, person = make_depot(), make_part(), make_user()
    count = record_count(
        depot=depot,
        part=part,
        counted_at=NOW,
        counted=Counted(7, on_order=4, service_level=0.98),
        entered_at=NOW,
        entered_by=person,
    )
    kept = StockCount.objects.get(pk=count.pk)
    assert (kept.on_hand, kept.on_order, kept.service_level) == (7, 4, 0.98)
    assert kept.entered_by == person


def test_record_count_keeps_the_service_level_of_the_count_before() -> None:
    depot, part = make_depot(), make_part()
    make_stock_count(depot=depot, part=part, counted_at=NOW - HOUR, service_level=0.95)
    count = record_count(depot=depot, part=part, counted_at=NOW, counted=Counted(1), entered_at=NOW)
    assert count.service_level == 0.95


def test_record_count_for_the_same_moment_corrects_or_repeats() -> None:
    depot, part = make_depot(), make_part()
    facts = {"depot": depot, "part": part, "counted_at": NOW, "entered_at": NOW}
    first = record_count(counted=Counted(7), **facts)
    assert record_count(counted=Counted(7), **facts) == first
    second = record_count(counted=Counted(8), **facts)
    assert second.corrects == first
    assert StockCount.objects.in_force().get().on_hand == 8


@pytest.mark.parametrize(
    ("counted", "ahead", "field"),
    [
        (Counted(-1), timedelta(0), "on_hand"),
        (Counted(1, on_order=-2), timedelta(0), "on_order"),
        (Counted(1, service_level=1.0), timedelta(0), "service_level"),
        (Counted(1), HOUR, "counted_at"),
    ],
)
def test_record_count_refuses_what_cannot_be(
    counted: Counted, ahead: timedelta, field: str
) -> None:
    with pytest.raises(StockCountRefusedError) as refused:
        record_count(
            depot=make_depot(),
            part=make_part(),
            counted_at=NOW + ahead,
            counted=counted,
            entered_at=NOW,
        )
    assert refused.value.field == field
    assert not StockCount.objects.exists()


def test_on_hand_now_takes_off_what_was_drawn_after_the_latest_count() -> None:
    depot, part = make_depot(), make_part()
    door = make_door(depot=depot)
    make_stock_count(depot=depot, part=part, counted_at=NOW - 9 * HOUR, on_hand=50)
    make_stock_count(depot=depot, part=part, counted_at=NOW - 5 * HOUR, on_hand=10)
    for hours, draws, place in (
        (7, True, depot),  # the count has seen it
        (5, True, depot),  # at the moment of the count: seen too
        (3, True, depot),
        (2, True, depot),
        (1, False, depot),  # imported history moves no stock
        (1, True, make_depot()),  # another shelf
    ):
        make_part_used(
            door=door,
            part=part,
            quantity=4,
            used_at=NOW - hours * HOUR,
            depot=place,
            draws_on_stock=draws,
        )
    now = on_hand_now(depot=depot, part=part)
    assert now is not None
    assert (now.since_count, now.on_hand, now.count.on_hand) == (-8, 2, 10)


def test_on_hand_now_may_fall_below_zero_and_is_none_without_a_count() -> None:
    depot, part = make_depot(), make_part()
    assert on_hand_now(depot=depot, part=part) is None
    make_stock_count(depot=depot, part=part, counted_at=NOW - HOUR, on_hand=1)
    make_part_used(
        door=make_door(), part=part, quantity=3, used_at=NOW, depot=depot, draws_on_stock=True
    )
    now = on_hand_now(depot=depot, part=part)
    assert now is not None
    assert now.on_hand == -2


def test_stock_of_asks_as_often_however_many_parts(
    django_assert_num_queries: DjangoAssertNumQueries,
) -> None:
    depot = make_depot()
    for number in range(5):
        make_stock_count(depot=depot, part=make_part(part_number=f"P{number}"), on_hand=number)
    with django_assert_num_queries(6):
        rows = stock_of(depot=depot, parts=Part.objects.all())
    assert [row.on_hand for row in rows] == [0, 1, 2, 3, 4]


def test_a_count_that_says_nothing_of_orders_keeps_what_is_left_of_those_noted() -> None:
    depot, part = make_depot(), make_part()
    make_stock_count(
        depot=depot, part=part, on_order=5, expected_on=NOW.date(), counted_at=NOW - 9 * HOUR
    )
    receive_without_order(
        part=part,
        place=place_of_depot(depot),
        delivered=Delivered(2),
        said=Said(at=NOW - HOUR, entered_at=NOW),
    )
    count = record_count(
        depot=depot, part=part, counted_at=NOW, counted=Counted(2, on_order=None), entered_at=NOW
    )
    assert (count.on_order, count.expected_on) == (3, NOW.date())
