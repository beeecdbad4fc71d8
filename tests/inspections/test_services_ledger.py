"""The ledger: its balance is the sum of its movements, and never below zero without a flag."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from datetime import datetime, timedelta

import pytest
from django.db import connection, transaction
from django.db.models import Sum
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from fleetdoors.models import Depot, DoorUnit, Part, PartKit, PartKitLine
from inspections.models import (
    AppendOnlyError,
    MovementKind,
    PartUsed,
    StockBalance,
    StockCount,
    StockMovement,
    StockPlace,
)
from inspections.services.issuing import (
    Said,
    bring_back,
    issue_kit,
    issue_pieces,
    take_back_movement,
    write_off,
)
from inspections.services.ledger import StockRefusedError
from inspections.services.ledger_import import book_what_is_not_booked
from inspections.services.ledger_record import book_use_taken_back
from inspections.services.receiving import Delivered, receive_without_order
from inspections.services.stock import Counted, record_count
from inspections.services.stock_now import on_hand_now
from inspections.services.transfers import (
    call_back_transfer,
    receive_pieces,
    send_pieces,
    set_aside,
)
from tests.factories import (
    NOW,
    make_depot,
    make_door,
    make_part,
    make_part_used,
    make_stock_count,
    make_user,
)
from tests.stock_factories import (
    make_reservation,
    make_van,
    said,
    shelf_of,
    stocked,
)

HOUR = timedelta(hours=1)
WHAT = st.sampled_from(
    ["issue", "use", "back", "receive", "count", "off", "send", "arrive", "undo", "aside"]
)


def assert_whole() -> None:
    """Every balance is the sum of its movements, which are numbered and add up one by one."""
    for balance in StockBalance.objects.all():
        rows = list(StockMovement.objects.of(balance.place, balance.part))
        assert [row.sequence for row in rows] == list(range(1, len(rows) + 1))
        assert balance.movements == len(rows)
        so_far = 0
        for row in rows:
            so_far += row.quantity
            assert row.balance_after == so_far
            assert so_far >= 0 or row.is_beyond_record
        assert balance.on_hand == so_far
        assert balance.on_hand >= 0 or balance.needs_count
        by_lot = StockMovement.objects.of(balance.place, balance.part).order_by().values("lot")
        for lot in by_lot.filter(lot__isnull=False).annotate(left=Sum("quantity")):
            assert lot["left"] >= 0
    for count in StockCount.objects.in_force():
        place = count.place or shelf_of(count.depot)
        seen = StockMovement.objects.of(place, count.part).filter(moved_at__lte=count.counted_at)
        assert seen.aggregate(total=Sum("quantity"))["total"] == count.on_hand


@pytest.mark.django_db
@given(st.lists(st.tuples(WHAT, st.integers(1, 5), st.integers(0, 48)), min_size=1, max_size=14))
@settings(
    max_examples=15,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)
def test_however_entries_are_mixed_the_ledger_adds_up(
    entries: list[tuple[str, int, int]],
) -> None:
    with transaction.atomic():
        here, there = make_depot(), make_depot()
        part, door = make_part(), make_door(depot=here)
        for number, (what, pieces, hours) in enumerate(entries):
            at = NOW - hours * HOUR
            try:
                _do(
                    what,
                    pieces,
                    at + number * timedelta(seconds=1),
                    _Scene(here, there, part, door),
                )
            except StockRefusedError:
                continue
        assert_whole()
        # Each example begins with an empty ledger.
        transaction.set_rollback(True)


@dataclass(frozen=True)
class _Scene:
    """Two depots, a part, and a door at the first."""

    here: Depot
    there: Depot
    part: Part
    door: DoorUnit


def _do(what: str, pieces: int, at: datetime, scene: _Scene) -> None:
    here, there, part, door = scene.here, scene.there, scene.part, scene.door
    shelf, who = shelf_of(here), said(at)
    latest = StockMovement.objects.filter(part=part).order_by("-pk").first()
    on_the_way = here.stock_places.get(kind="shelf").transfers_out.filter(ended_at=None).first()
    if what == "issue":
        issue_pieces(place=shelf, part=part, quantity=pieces, said=who)
    elif what == "use":
        make_part_used(
            door=door, part=part, quantity=pieces, used_at=at, depot=here, draws_on_stock=True
        )
    elif what == "back":
        bring_back(place=shelf, part=part, quantity=pieces, said=who)
    elif what == "receive":
        lot = f"L{pieces}"
        delivered = Delivered(pieces + 4, damaged=pieces % 2, lot=lot)
        receive_without_order(part=part, place=shelf, delivered=delivered, said=who)
    elif what == "count":
        record_count(depot=here, part=part, counted_at=at, counted=Counted(pieces), entered_at=NOW)
    elif what == "off":
        write_off(place=shelf, part=part, quantity=pieces, said=who, reason="rust")
    elif what == "send":
        send_pieces(
            from_place=shelf, to_place=shelf_of(there), part=part, quantity=pieces, said=who
        )
    elif what == "arrive" and on_the_way:
        receive_pieces(
            transfer=on_the_way, arrived=on_the_way.quantity - 1, said=said(), shortfall_reason="?"
        )
    elif what == "undo" and latest:
        take_back_movement(movement=latest, said=said(), reason="by mistake")
    elif what == "aside":
        set_aside(place=shelf, part=part, quantity=pieces, said=who, reason="wet")


def take_one(place: StockPlace, part: Part) -> str:
    try:
        issue_pieces(place=place, part=part, quantity=1, said=said())
    except StockRefusedError as refused:
        return str(refused)
    finally:
        connection.close()
    return "taken"


@pytest.mark.django_db(transaction=True)
def test_twenty_hands_at_once_for_the_last_piece_leave_one_winner() -> None:
    part = make_part(part_number="FUSE", name="Fuse")
    place = stocked(part=part, pieces=1, depot=make_depot(code="N"))
    with ThreadPoolExecutor(max_workers=20) as pool:
        ended = list(pool.map(lambda _each: take_one(place, part), range(20)))
    refusal = "Depot N · shelf holds 0 of Fuse (FUSE), and 1 were asked for. Nothing was taken."
    assert sorted(ended) == sorted(["taken", *[refusal] * 19])
    assert StockBalance.objects.get(place=place).on_hand == 0
    assert StockMovement.objects.filter(kind=MovementKind.ISSUE).count() == 1
    assert_whole()


@pytest.mark.django_db
def test_a_movement_is_never_changed_or_deleted() -> None:
    movement = StockMovement.objects.get(place=stocked())
    movement.quantity = 99
    with pytest.raises(AppendOnlyError, match="never changed"):
        movement.save()
    with pytest.raises(AppendOnlyError, match="never deleted"):
        movement.delete()
    with pytest.raises(AppendOnlyError, match="never changed"):
        StockMovement.objects.all().update(quantity=99)
    with pytest.raises(AppendOnlyError, match="never deleted"):
        StockMovement.objects.all().delete()


@pytest.mark.django_db
def test_a_repair_with_a_part_the_record_does_not_know_of_is_flagged_for_a_count() -> None:
    depot, part = make_depot(), make_part()
    make_stock_count(depot=depot, part=part, on_hand=1, counted_at=NOW - 5 * HOUR)
    make_part_used(
        door=make_door(depot=depot), part=part, quantity=2, used_at=NOW - HOUR, depot=depot,
        draws_on_stock=True,
    )  # fmt: skip
    balance = StockBalance.objects.get(part=part)
    assert (balance.on_hand, balance.needs_count) == (-1, True)
    record_count(depot=depot, part=part, counted_at=NOW, counted=Counted(3), entered_at=NOW)
    balance.refresh_from_db()
    assert (balance.on_hand, balance.needs_count) == (3, False)
    assert_whole()


@pytest.mark.django_db
def test_a_use_comes_from_the_persons_own_van_first() -> None:
    depot, part, person = make_depot(), make_part(), make_user()
    van = make_van(depot=depot, keeper=person)
    stocked(place=van, part=part, pieces=2)
    stocked(depot=depot, part=part, pieces=5)
    used = PartUsed.objects.create(
        door=make_door(depot=depot), part=part, quantity=3, used_at=NOW, entered_at=NOW,
        entered_by=person, depot=depot, draws_on_stock=True,
    )  # fmt: skip
    assert book_what_is_not_booked() == 1
    assert StockBalance.objects.get(place=van).on_hand == 2, "a bulk of uses knows no vans"
    book_use_taken_back(used, reason="not fitted after all", entered_at=NOW)
    assert StockBalance.objects.get(place=shelf_of(depot)).on_hand == 5
    again = make_part_used(door=used.door, part=part, quantity=1, used_at=NOW, depot=depot)
    assert not again.stock_movements.exists(), "what does not draw on the stock moves nothing"


@pytest.mark.django_db
def test_what_was_counted_and_used_before_the_ledger_is_taken_up_as_it_was_known() -> None:
    depot, part = make_depot(), make_part()
    door = make_door(depot=depot)
    first = StockCount.objects.create(
        depot=depot, part=part, counted_at=NOW - 9 * HOUR, on_hand=8, entered_at=NOW - 9 * HOUR,
        superseded_at=NOW - 4 * HOUR,
    )  # fmt: skip
    StockCount.objects.create(
        depot=depot, part=part, counted_at=first.counted_at, on_hand=6, entered_at=NOW - 4 * HOUR,
        corrects=first,
    )  # fmt: skip
    PartUsed.objects.create(
        door=door, part=part, quantity=2, used_at=NOW - 6 * HOUR, entered_at=NOW - 6 * HOUR,
        depot=depot, draws_on_stock=True,
    )  # fmt: skip
    assert book_what_is_not_booked() == 3
    assert book_what_is_not_booked() == 0
    assert_whole()
    known = [
        StockMovement.objects.filter(moved_at__lt=at, entered_at__lt=at).aggregate(
            total=Sum("quantity")
        )["total"]
        for at in (NOW - 8 * HOUR, NOW - 5 * HOUR, NOW)
    ]
    assert known == [8, 6, 4]


@pytest.mark.django_db
def test_pieces_past_their_last_day_are_not_handed_out() -> None:
    part = make_part()
    place = stocked(part=part, pieces=3, lot="OLD", use_by_on=(NOW - 48 * HOUR).date())
    with pytest.raises(StockRefusedError, match="within their last day of use"):
        issue_pieces(place=place, part=part, quantity=1, said=said())
    moved = write_off(
        place=place, part=part, quantity=3, said=said(), reason="past its day",
        lot=part.lots.get().pk,
    )  # fmt: skip
    assert moved[0].balance_after == 0


@pytest.mark.django_db
def test_pieces_kept_for_planned_work_are_not_handed_out() -> None:
    kept = make_reservation(quantity=2)
    place = stocked(depot=kept.depot, part=kept.part, pieces=3)
    issue_pieces(place=place, part=kept.part, quantity=1, said=said())
    with pytest.raises(StockRefusedError, match="2 are kept for planned"):
        issue_pieces(place=place, part=kept.part, quantity=1, said=said())
    now = on_hand_now(depot=kept.depot, part=kept.part)
    assert now is not None
    assert (now.on_hand, now.reserved, now.position) == (2, 2, 0)


@pytest.mark.django_db
def test_a_kit_is_handed_out_whole_or_not_at_all() -> None:
    depot, kit = make_depot(), PartKit.objects.create(code="SPRINGS")
    for pieces in (2, 1):
        part = make_part()
        PartKitLine.objects.create(kit=kit, part=part, quantity=2)
        stocked(depot=depot, part=part, pieces=pieces)
    with pytest.raises(StockRefusedError, match="holds 1 of"):
        issue_kit(place=shelf_of(depot), kit=kit, said=said())
    assert not StockMovement.objects.filter(kind=MovementKind.ISSUE).exists()


@pytest.mark.django_db
def test_a_movement_is_taken_back_once_by_a_counter_movement_that_says_why() -> None:
    part = make_part()
    place = stocked(part=part, pieces=4)
    (taken,) = issue_pieces(place=place, part=part, quantity=3, said=said())
    with pytest.raises(StockRefusedError, match="the reason is empty"):
        take_back_movement(movement=taken, said=said(), reason=" ")
    (counter,) = take_back_movement(movement=taken, said=said(), reason="wrong part")
    assert (counter.kind, counter.quantity, counter.reverses) == ("correction", 3, taken)
    with pytest.raises(StockRefusedError, match="taken back before"):
        take_back_movement(movement=taken, said=said(), reason="again")
    with pytest.raises(StockRefusedError, match="pages of their own"):
        take_back_movement(movement=part.stock_movements.first(), said=said(), reason="x")
    assert StockBalance.objects.get(place=place).on_hand == 4


def _two_depots() -> tuple[Depot, Depot]:
    return make_depot(code="A"), make_depot(code="B")


@pytest.mark.django_db
def test_a_transfer_leaves_one_depot_and_is_on_order_at_the_other_until_it_arrives() -> None:
    here, there = _two_depots()
    part = make_part()
    stocked(depot=here, part=part, pieces=6)
    stocked(depot=there, part=part, pieces=1)
    transfer = send_pieces(
        from_place=shelf_of(here), to_place=shelf_of(there), part=part, quantity=4, said=said()
    )
    before = on_hand_now(depot=there, part=part)
    assert before is not None
    assert (before.on_hand, before.arriving, before.position) == (1, 4, 5)
    with pytest.raises(StockRefusedError, match="1 are missing: say why"):
        receive_pieces(transfer=transfer, arrived=3, said=said())
    receive_pieces(transfer=transfer, arrived=3, said=said(), shortfall_reason="one was crushed")
    after = on_hand_now(depot=there, part=part)
    assert after is not None
    assert (after.on_hand, after.arriving) == (4, 0)
    with pytest.raises(StockRefusedError, match="received before"):
        receive_pieces(transfer=transfer, arrived=3, said=said(), shortfall_reason="x")
    assert_whole()


@pytest.mark.django_db
def test_a_transfer_called_back_lies_where_it_came_from() -> None:
    here, there = _two_depots()
    part = make_part()
    stocked(depot=here, part=part, pieces=6)
    transfer = send_pieces(
        from_place=shelf_of(here), to_place=shelf_of(there), part=part, quantity=4, said=said()
    )
    call_back_transfer(transfer=transfer, reason="the van did not go", entered_at=NOW)
    assert StockBalance.objects.get(part=part).on_hand == 6
    with pytest.raises(StockRefusedError, match="Only what is on its way"):
        call_back_transfer(transfer=transfer, reason="again", entered_at=NOW)


@pytest.mark.django_db
def test_within_a_depot_pieces_arrive_at_once_in_their_lots() -> None:
    depot, part = make_depot(), make_part()
    van = make_van(depot=depot)
    stocked(depot=depot, part=part, pieces=2, lot="A", use_by_on=(NOW + 99 * HOUR).date())
    stocked(depot=depot, part=part, pieces=2)
    send_pieces(from_place=shelf_of(depot), to_place=van, part=part, quantity=3, said=said())
    rows = StockMovement.objects.of(van, part).values_list("lot__number", "quantity", "kind")
    assert list(rows) == [("A", 2, "arrived"), (None, 1, "arrived")]
    now = on_hand_now(depot=depot, part=part)
    assert now is not None
    assert (now.on_hand, now.in_vans) == (4, 3)


@pytest.mark.django_db
def test_what_is_set_aside_is_not_there_for_work() -> None:
    depot, part = make_depot(), make_part()
    place = stocked(depot=depot, part=part, pieces=5)
    set_aside(place=place, part=part, quantity=2, said=said(), reason="scratched")
    now = on_hand_now(depot=depot, part=part)
    assert now is not None
    assert now.on_hand == 3
    aside = depot.stock_places.get(kind="set_aside")
    with pytest.raises(StockRefusedError, match="not handed out"):
        issue_pieces(place=aside, part=part, quantity=1, said=said())


@pytest.mark.django_db
def test_a_refused_movement_changes_nothing() -> None:
    part = make_part()
    place = stocked(part=part, pieces=2)
    rows = StockMovement.objects.count()
    for quantity, moment in ((0, NOW), (3, NOW), (1, NOW + HOUR)):
        with pytest.raises(StockRefusedError):
            issue_pieces(
                place=place, part=part, quantity=quantity,
                said=Said(at=moment, entered_at=NOW),
            )  # fmt: skip
    assert StockMovement.objects.count() == rows
    assert StockBalance.objects.get(place=place).on_hand == 2
