"""Pieces handed out, sent on, written off and kept for work go along in a fleet folder."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

import pytest

from fleetdoors.models import Depot, Part
from inspections.models import PartReservation, StockBalance, StockMovement, StockTransfer
from inspections.services.fleet_folder.exporting import export_fleet
from inspections.services.fleet_folder.importing import import_fleet
from inspections.services.issuing import (
    Said,
    bring_back,
    can_be_taken_back,
    issue_pieces,
    take_back_movement,
    write_off,
)
from inspections.services.receiving import Delivered, receive_without_order
from inspections.services.stock_now import stock_of
from inspections.services.transfers import receive_pieces, send_pieces, set_aside
from tests.factories import (
    NOW,
    make_depot,
    make_door,
    make_part,
    make_part_used,
    make_stock_count,
    make_truck,
    make_user,
)
from tests.inspections.test_fleet_folder_linked import rewritten
from tests.inspections.test_fleet_folder_round_trip import empty_the_database, goes_round
from tests.stock_factories import DAY, make_reservation, make_van, shelf_of

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("recompute_requests")]


def at(days: float) -> Said:
    moment = NOW - timedelta(days=days)
    return Said(at=moment, entered_at=moment)


def a_month_at_two_shelves() -> None:
    """Everything that can happen to pieces, between two counts and after them."""
    kim = make_user()
    north, south = make_depot(code="N", timezone="America/Chicago"), make_depot(code="S")
    part = make_part(part_number="SLD")
    shelf, van = shelf_of(north), make_van(depot=north, name="=Van 7", keeper=kim)
    make_stock_count(depot=north, part=part, on_hand=20, counted_at=NOW - 30 * DAY)
    lot = Delivered(10, lot="L1", use_by_on=NOW.date() + 40 * DAY)
    receive_without_order(part=part, place=shelf, delivered=lot, said=at(28))
    door = make_door(truck=make_truck(depot=north))
    issue_pieces(place=shelf, part=part, quantity=3, said=at(27), door=door, reason="-bench")
    bring_back(place=shelf, part=part, quantity=1, said=at(26))
    write_off(place=shelf, part=part, quantity=2, said=at(25), reason="crushed")
    [slip] = issue_pieces(place=shelf, part=part, quantity=4, said=at(24))
    take_back_movement(movement=slip, said=at(23), reason="nothing was taken")
    send_pieces(from_place=shelf, to_place=van, part=part, quantity=2, said=at(22))
    came = send_pieces(
        from_place=shelf, to_place=shelf_of(south), part=part, quantity=5, said=at(21)
    )
    receive_pieces(transfer=came, arrived=4, said=at(19), shortfall_reason="one was lost")
    set_aside(place=shelf, part=part, quantity=1, said=at(18), reason="bent")
    make_stock_count(depot=north, part=part, on_hand=9, counted_at=NOW - 15 * DAY)
    # Entered after the count about the time before it: the count has seen it.
    late = Said(at=NOW - 16 * DAY, entered_at=NOW - 14 * DAY)
    issue_pieces(place=shelf, part=part, quantity=1, said=late)
    make_part_used(door=door, part=part, draws_on_stock=True, used_at=NOW - 12 * DAY)
    send_pieces(from_place=shelf, to_place=shelf_of(south), part=part, quantity=2, said=at(3))
    make_reservation(depot=north, part=part, quantity=2)


def shelves() -> list[tuple[object, ...]]:
    balances = StockBalance.objects.order_by("place__depot__code", "place__kind", "place__name")
    return list(
        balances.values_list(
            "place__depot__code", "place__kind", "place__name", "on_hand", "movements",
            "is_known", "needs_count",
        )
    )  # fmt: skip


def counted_on() -> list[tuple[object, ...]]:
    return [
        (depot.code, each.on_hand, each.in_vans, each.on_order, each.reserved)
        for depot in Depot.objects.order_by("code")
        for each in stock_of(depot=depot, parts=Part.objects.all())
    ]


def ledger() -> list[tuple[object, ...]]:
    """Every movement, place by place, in the order in which it was written."""
    rows = StockMovement.objects.order_by("place__depot__code", "place__kind", "sequence")
    return list(
        rows.values_list(
            "place__depot__code", "place__kind", "sequence", "kind", "quantity", "balance_after",
            "lot__number", "moved_at", "entered_at", "reason", "door__serial",
            "transfer__quantity", "reverses__quantity",
        )
    )  # fmt: skip


def test_the_whole_ledger_is_written_anew_as_it_was(tmp_path: Path) -> None:
    a_month_at_two_shelves()
    before = (shelves(), counted_on(), ledger())
    assert len(before[2]) > 18
    files = goes_round(tmp_path)
    assert {"stock_movements.csv", "stock_transfers.csv", "reservations.csv"} <= set(files)
    assert shelves() == before[0]
    assert counted_on() == before[1]
    assert ledger() == before[2]
    on_the_way = StockTransfer.objects.on_the_way().get()
    assert (on_the_way.quantity, on_the_way.to_place.depot.code) == (2, "S")
    assert PartReservation.objects.standing().get().quantity == 2
    slip = StockMovement.objects.get(reversal__isnull=False)
    assert not can_be_taken_back(slip)


def test_the_same_folder_twice_moves_nothing(tmp_path: Path) -> None:
    a_month_at_two_shelves()
    before = (shelves(), ledger())
    export_fleet(tmp_path / "fleet")
    assert import_fleet(tmp_path / "fleet", now=NOW).changes_nothing
    assert (shelves(), ledger()) == before


def test_a_later_folder_moves_only_what_is_new(tmp_path: Path) -> None:
    a_month_at_two_shelves()
    export_fleet(tmp_path / "early")
    shelf, part = shelf_of(Depot.objects.get(code="N")), Part.objects.get(part_number="SLD")
    issue_pieces(place=shelf, part=part, quantity=1, said=at(1))
    slip = StockMovement.objects.filter(kind="issue", reason="-bench").get()
    take_back_movement(movement=slip, said=at(0.5), reason="the wrong shelf")
    export_fleet(tmp_path / "late")
    after = shelves()
    empty_the_database()
    import_fleet(tmp_path / "early", now=NOW)
    report = import_fleet(tmp_path / "late", now=NOW)
    assert {each.table: each.new for each in report.counts if each.new} == {"stock_movements": 2}
    assert shelves() == after
    assert StockMovement.objects.get(reason="the wrong shelf").reverses.reason == "-bench"


@pytest.mark.parametrize(
    ("table", "changes", "says"),
    [
        ("stock_movements", {"kind": "count"}, "unknown code; known are: issue, return"),
        ("stock_movements", {"quantity": "0"}, "nothing moves with 0 pieces"),
        ("stock_movements", {"kind": "sent"}, "names its transfer"),
        ("stock_movements", {"kind": "write_off", "reason": ""}, "the reason is missing"),
        ("stock_movements", {"reverses": "9"}, "no row of stock_movements that stands before"),
        ("stock_movements", {"place": "99"}, "no row of stock_places"),
        ("stock_transfers", {"to_place": "1", "from_place": "1"}, "another place"),
        ("stock_transfers", {"arrived": ""}, "says how many and when"),
        ("stock_transfers", {"arrived": "1"}, "the reason is missing"),
        ("stock_transfers", {"arrived": "7"}, "at most what was sent arrives"),
        ("reservations", {"visit": ""}, "kept for a visit or a search"),
        ("reservations", {"ended_at": "2026-11-25T11:00"}, "the reason is missing"),
    ],
)
def test_what_cannot_be_is_told_and_nothing_moves(
    tmp_path: Path, table: str, changes: dict[str, str], says: str
) -> None:
    a_month_at_two_shelves()
    export_fleet(tmp_path / "fleet")
    empty_the_database()
    report = import_fleet(rewritten(tmp_path / "fleet", table, **changes), now=NOW)
    problems = [str(problem) for problem in report.problems]
    assert any(says in problem and f"{table}.csv" in problem for problem in problems), problems
    assert not StockMovement.objects.exists()
