"""Tells whoever waits how far long work has come: an import, an export, a backup."""

from typing import Protocol


class Progress(Protocol):
    """Hears of each stage and of the rows done in it."""

    def begin(self, label: str, total: int | None) -> None:
        """A stage starts; the total is the number of rows, where it is known."""

    def advance(self, rows: int) -> None:
        """So many more rows are done."""


class Silent:
    """Nobody waits."""

    def begin(self, label: str, total: int | None) -> None:
        """Say nothing."""

    def advance(self, rows: int) -> None:
        """Say nothing."""


SILENT = Silent()
