"""What becomes of the rows of a table, and how many there are of each."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import asdict, dataclass
from enum import StrEnum


class Outcome(StrEnum):
    """What an import does with a row."""

    NEW = "new"
    CHANGED = "changed"
    CORRECTED = "corrected"
    UNCHANGED = "unchanged"


@dataclass(frozen=True)
class TableCount:
    """How many rows of a table were read, and what becomes of them."""

    table: str
    read: int = 0
    new: int = 0
    changed: int = 0
    corrected: int = 0
    unchanged: int = 0

    @property
    def changes_nothing(self) -> bool:
        """Whether the database stays as it is."""
        return not (self.new or self.changed or self.corrected)

    def as_row(self) -> dict[str, str | int]:
        """The count as plain values."""
        return asdict(self)


def count_outcomes(table: str, read: int, outcomes: Iterable[Outcome]) -> TableCount:
    """Add up what becomes of the rows."""
    found = Counter(outcomes)
    return TableCount(
        table,
        read=read,
        new=found[Outcome.NEW],
        changed=found[Outcome.CHANGED],
        corrected=found[Outcome.CORRECTED],
        unchanged=found[Outcome.UNCHANGED],
    )
