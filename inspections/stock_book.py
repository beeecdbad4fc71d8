"""The arithmetic of a ledger of stock: one part at one place; knows no Django.

A count is an anchor: what lay there at that moment is what was counted, whatever is entered later
about the time before. A movement dated before a count is therefore followed by one that takes it
out again at the first count after it, and the stock of today stays as counted.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date, datetime


@dataclass(frozen=True)
class Line:
    """Pieces that came or went before, of a lot where one is known."""

    moved_at: datetime
    quantity: int
    lot: int | None = None


@dataclass(frozen=True)
class Anchor:
    """A count in force, and when this moment was first counted on record."""

    counted_at: datetime
    first_entered_at: datetime
    count: int


@dataclass(frozen=True)
class Posting:
    """A movement to write; `count` is the count that it belongs to, where it belongs to one."""

    quantity: int
    moved_at: datetime
    entered_at: datetime
    lot: int | None = None
    count: int | None = None


@dataclass
class Book:
    """What is on record of one part at one place, and what is to be written after it."""

    lines: list[Line] = field(default_factory=list)
    anchors: list[Anchor] = field(default_factory=list)
    use_by: dict[int, date | None] = field(default_factory=dict)

    @property
    def on_hand(self) -> int:
        """Pieces that should lie there now."""
        return sum(line.quantity for line in self.lines)

    def by_lot(self) -> dict[int | None, int]:
        """Pieces of each lot that should be left, and (None) of those without one."""
        left: dict[int | None, int] = {}
        for line in self.lines:
            left[line.lot] = left.get(line.lot, 0) + line.quantity
        return left

    def usable(self, today: date) -> int:
        """Pieces on hand, without those whose last day of use is over."""
        past = sum(
            max(pieces, 0) for lot, pieces in self.by_lot().items() if self._is_past(lot, today)
        )
        return self.on_hand - past

    def move(
        self, quantity: int, *, moved_at: datetime, entered_at: datetime, lot: int | None = None
    ) -> list[Posting]:
        """Pieces of one lot come or go."""
        posting = Posting(quantity, moved_at, entered_at, lot)
        written = [posting, *self._taken_up(posting)]
        self.lines += [Line(each.moved_at, each.quantity, each.lot) for each in written]
        return written

    def take(
        self, pieces: int, *, moved_at: datetime, entered_at: datetime, today: date
    ) -> list[Posting]:
        """Pieces go: the lot to be used up first before the others, one that is over the last."""
        written: list[Posting] = []
        for lot, share in self._shares(pieces, today):
            written += self.move(-share, moved_at=moved_at, entered_at=entered_at, lot=lot)
        return written

    def count(
        self, counted: int, *, count: int, counted_at: datetime, entered_at: datetime
    ) -> list[Posting]:
        """Make the record say what was counted; the difference is written even where it is 0."""
        same = [each for each in self.anchors if each.counted_at == counted_at]
        first = min([entered_at, *(each.first_entered_at for each in same)])
        self.anchors = [each for each in self.anchors if each.counted_at != counted_at]
        was = sum(line.quantity for line in self.lines if line.moved_at <= counted_at)
        written: list[Posting] = []
        for lot, quantity in self._difference(counted - was):
            posting = Posting(quantity, counted_at, entered_at, lot, count)
            written += [posting, *self._taken_up(posting)]
        self.lines += [Line(each.moved_at, each.quantity, each.lot) for each in written]
        self.anchors.append(Anchor(counted_at, first, count))
        return written

    def _taken_up(self, posting: Posting) -> list[Posting]:
        """What takes a movement out again at the first count that has seen it."""
        strictly = posting.count is not None
        later = [
            each
            for each in self.anchors
            if each.counted_at > posting.moved_at
            or (each.counted_at == posting.moved_at and not strictly)
        ]
        if not later or posting.quantity == 0:
            return []
        seen = min(later, key=lambda each: each.counted_at)
        return [
            Posting(
                -posting.quantity,
                seen.counted_at,
                max(posting.entered_at, seen.first_entered_at),
                posting.lot,
                seen.count,
            )
        ]

    def _difference(self, quantity: int) -> list[tuple[int | None, int]]:
        """More belongs to no lot; fewer are missing from the pieces without a lot first."""
        if quantity >= 0:
            return [(None, quantity)]
        left = self.by_lot()
        shares = _fill(-quantity, [(None, left.pop(None, 0)), *self._in_order(left)])
        return [(lot, -share) for lot, share in shares]

    def _shares(self, pieces: int, today: date) -> list[tuple[int | None, int]]:
        left = self.by_lot()
        loose = (None, left.pop(None, 0))
        lots = self._in_order(left)
        good = [each for each in lots if not self._is_past(each[0], today)]
        past = [each for each in lots if self._is_past(each[0], today)]
        return _fill(pieces, [*good, loose, *past])

    def _in_order(self, left: dict[int | None, int]) -> list[tuple[int | None, int]]:
        """Lots with pieces left, by their last day of use; those without one last."""
        return sorted(
            ((lot, pieces) for lot, pieces in left.items() if pieces > 0),
            key=lambda each: (self._last_day(each[0]), each[0] or 0),
        )

    def _last_day(self, lot: int | None) -> date:
        return (self.use_by.get(lot) if lot is not None else None) or date.max

    def _is_past(self, lot: int | None, today: date) -> bool:
        return self._last_day(lot) < today


def _fill(pieces: int, sources: Iterable[tuple[int | None, int]]) -> list[tuple[int | None, int]]:
    """Take from each source what it has until there are enough; the rest is of no lot."""
    taken: dict[int | None, int] = {}
    for lot, there in sources:
        share = min(pieces, max(there, 0))
        if share:
            taken[lot] = taken.get(lot, 0) + share
            pieces -= share
    if pieces:
        taken[None] = taken.get(None, 0) + pieces
    return list(taken.items())
