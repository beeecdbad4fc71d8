"""How much an import takes in: one bound for a person at the command line, one for a browser."""

from dataclasses import dataclass

MEBIBYTE = 1024 * 1024


@dataclass(frozen=True)
class Limits:
    """Bounds that keep a hostile or mistaken file from filling disk or memory."""

    unpacked_bytes: int
    rows: int
    files: int
    columns: int = 64


COMMAND_LIMITS = Limits(unpacked_bytes=4096 * MEBIBYTE, rows=50_000_000, files=2_000)
BROWSER_LIMITS = Limits(unpacked_bytes=512 * MEBIBYTE, rows=3_000_000, files=200)
