"""The arithmetic of the ledger: counts are anchors, lots are used up in the order of their days."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from inspections.stock_book import Anchor, Book, Line

# A busy machine draws examples slowly.
SLOW = [HealthCheck.too_slow]
START = datetime(2026, 1, 1, tzinfo=UTC)
TODAY = date(2026, 6, 1)
PAST, SOON, LATER = date(2026, 5, 31), date(2026, 7, 1), date(2027, 1, 1)


def hour(number: int) -> datetime:
    return START + timedelta(hours=number)


@st.composite
def told(draw: st.DrawFn) -> list[tuple[str, int, int]]:
    """Movements and counts in any order of entry, each at any hour before."""
    number = st.integers(-6, 6).filter(bool)
    move = st.tuples(st.just("move"), st.integers(0, 9), number)
    count = st.tuples(st.just("count"), st.integers(0, 9), st.integers(0, 9))
    return draw(st.lists(st.one_of(move, count), max_size=30))


@given(told())
@settings(max_examples=300, deadline=None, suppress_health_check=SLOW)
def test_what_was_counted_stands_whatever_is_entered_later(
    entries: list[tuple[str, int, int]],
) -> None:
    book, counted = Book(), {}
    for number, (kind, at, quantity) in enumerate(entries):
        moment = {"entered_at": hour(20 + number)}
        if kind == "move":
            book.move(quantity, moved_at=hour(at), **moment)
        else:
            book.count(quantity, count=number, counted_at=hour(at), **moment)
            counted[at] = quantity
        for when, pieces in counted.items():
            seen = [line.quantity for line in book.lines if line.moved_at <= hour(when)]
            assert sum(seen) == pieces


@given(told())
@settings(max_examples=300, deadline=None, suppress_health_check=SLOW)
def test_the_stock_of_today_is_the_last_count_and_what_moved_after_it(
    entries: list[tuple[str, int, int]],
) -> None:
    """A second way of reckoning, from the entries alone."""
    book = Book()
    for number, (kind, at, quantity) in enumerate(entries):
        moment = {"entered_at": hour(20 + number)}
        if kind == "move":
            book.move(quantity, moved_at=hour(at), **moment)
        else:
            book.count(quantity, count=number, counted_at=hour(at), **moment)
    counts = {at: quantity for kind, at, quantity in entries if kind == "count"}
    last = max(counts, default=None)
    moved = sum(
        quantity for kind, at, quantity in entries if kind == "move" and (last is None or at > last)
    )
    assert book.on_hand == (counts[last] if last is not None else 0) + moved


@given(told(), st.permutations(range(30)))
@settings(max_examples=200, deadline=None, suppress_health_check=SLOW)
def test_the_order_of_entry_does_not_change_the_stock(
    entries: list[tuple[str, int, int]], order: list[int]
) -> None:
    """Counts of one hour apart: of two for one moment the later entry stands."""
    seen: set[int] = set()
    kept = []
    for entry in entries:
        if entry[0] == "count" and entry[1] in seen:
            continue
        seen |= {entry[1]} if entry[0] == "count" else set()
        kept.append(entry)
    shuffled = [kept[k] for k in order if k < len(kept)]
    found = []
    for told_so in (kept, shuffled):
        book = Book()
        for number, (kind, at, quantity) in enumerate(told_so):
            if kind == "move":
                book.move(quantity, moved_at=hour(at), entered_at=hour(20 + number))
            else:
                book.count(
                    quantity, count=number, counted_at=hour(at), entered_at=hour(20 + number)
                )
        found.append(book.on_hand)
    assert found[0] == found[1]


def test_a_late_entry_is_taken_out_again_at_the_count_that_saw_it() -> None:
    book = Book([Line(hour(0), 10), Line(hour(5), -2)], [Anchor(hour(5), hour(5), 7)])
    postings = book.move(-3, moved_at=hour(2), entered_at=hour(9))
    assert [(each.quantity, each.moved_at, each.count) for each in postings] == [
        (-3, hour(2), None),
        (3, hour(5), 7),
    ]
    assert book.on_hand == 8


def test_of_several_lots_the_one_to_be_used_up_first_goes_first_and_a_past_one_last() -> None:
    book = Book(
        [Line(hour(0), 2, 1), Line(hour(0), 2, 2), Line(hour(0), 2, 3), Line(hour(0), 1)],
        use_by={1: LATER, 2: PAST, 3: SOON},
    )
    assert book.usable(TODAY) == 5
    postings = book.take(6, moved_at=hour(1), entered_at=hour(1), today=TODAY)
    assert [(each.lot, each.quantity) for each in postings] == [
        (3, -2),
        (1, -2),
        (None, -1),
        (2, -1),
    ]
    assert book.by_lot() == {1: 0, 2: 1, 3: 0, None: 0}


def test_what_is_missing_at_a_count_is_missing_from_the_pieces_without_a_lot_first() -> None:
    book = Book([Line(hour(0), 4, 1), Line(hour(0), 2)], use_by={1: SOON})
    postings = book.count(3, count=9, counted_at=hour(1), entered_at=hour(1))
    assert [(each.lot, each.quantity) for each in postings] == [(None, -2), (1, -1)]


def test_a_count_that_agrees_is_written_all_the_same() -> None:
    book = Book([Line(hour(0), 4)])
    postings = book.count(4, count=9, counted_at=hour(1), entered_at=hour(1))
    assert [(each.quantity, each.count) for each in postings] == [(0, 9)]


@given(st.lists(st.integers(1, 5), max_size=12), st.integers(1, 40))
@settings(deadline=None, suppress_health_check=SLOW)
def test_no_lot_gives_more_than_it_has(lots: list[int], wanted: int) -> None:
    book = Book(
        [Line(hour(0), pieces, number) for number, pieces in enumerate(lots, start=1)],
        use_by=dict.fromkeys(range(1, len(lots) + 1), LATER),
    )
    book.take(wanted, moved_at=hour(1), entered_at=hour(1), today=TODAY)
    left = book.by_lot()
    assert all(pieces >= 0 for lot, pieces in left.items() if lot is not None)
    assert sum(left.values()) == sum(lots) - wanted
