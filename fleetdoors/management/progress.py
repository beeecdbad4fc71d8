"""A progress bar on a terminal; nothing where nobody watches."""

import sys

from tqdm import tqdm


class Bar:
    """Shows how far long work has come; one bar for each stage."""

    def __init__(self) -> None:
        self._bar: tqdm | None = None

    def begin(self, label: str, total: int | None) -> None:
        """Start the bar of a stage."""
        self.close()
        # A bar that would be gone within two seconds only flickers.
        self._bar = tqdm(
            desc=label, total=total, unit=" rows", delay=2, disable=not sys.stderr.isatty()
        )

    def advance(self, rows: int) -> None:
        """Move the bar of the present stage."""
        if self._bar is not None:
            self._bar.update(rows)

    def close(self) -> None:
        """End the bar."""
        if self._bar is not None:
            self._bar.close()
            self._bar = None
