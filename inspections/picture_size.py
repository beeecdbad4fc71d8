"""How many pixels a picture would unfold to, read from its head without unfolding it.

Layouts from memory: PNG (ISO/IEC 15948, chunk IHDR), JPEG (ITU-T T.81, frame headers), WebP
(RFC 9649, chunks VP8, VP8L and VP8X).
"""

from __future__ import annotations

# Frame headers of a JPEG: C0 to CF without DHT (C4), JPG (C8) and DAC (CC).
FRAMES = frozenset(range(0xC0, 0xD0)) - {0xC4, 0xC8, 0xCC}
# Markers without a length behind them: TEM, RST0 to RST7, SOI.
BARE = frozenset((0x01, *range(0xD0, 0xD9)))
SCAN, END = 0xDA, 0xD9
LOW_14_BITS = 0x3FFF


def picture_size(content: bytes) -> tuple[int, int] | None:
    """Width and height in pixels, None where the head does not say."""
    if content.startswith(b"\x89PNG"):
        return _png(content)
    if content.startswith(b"\xff\xd8"):
        return _jpeg(content)
    return _webp(content) if content[8:12] == b"WEBP" else None


def _png(content: bytes) -> tuple[int, int] | None:
    if content[12:16] != b"IHDR" or len(content) < 24:
        return None
    return int.from_bytes(content[16:20]), int.from_bytes(content[20:24])


def _jpeg(content: bytes) -> tuple[int, int] | None:
    at = 2
    while at + 9 <= len(content) and content[at] == 0xFF:
        marker = content[at + 1]
        if marker in (SCAN, END):
            return None
        if marker in FRAMES:
            return (
                int.from_bytes(content[at + 7 : at + 9]),
                int.from_bytes(content[at + 5 : at + 7]),
            )
        if marker == 0xFF:
            at += 1
        elif marker in BARE:
            at += 2
        else:
            at += 2 + max(2, int.from_bytes(content[at + 2 : at + 4]))
    return None


def _webp(content: bytes) -> tuple[int, int] | None:
    kind = content[12:16]
    if len(content) < 30:
        return None
    if kind == b"VP8X":
        return (
            1 + int.from_bytes(content[24:27], "little"),
            1 + int.from_bytes(content[27:30], "little"),
        )
    if kind == b"VP8L":
        bits = int.from_bytes(content[21:25], "little")
        return 1 + (bits & LOW_14_BITS), 1 + (bits >> 14 & LOW_14_BITS)
    if kind == b"VP8 ":
        return (
            int.from_bytes(content[26:28], "little") & LOW_14_BITS,
            int.from_bytes(content[28:30], "little") & LOW_14_BITS,
        )
    return None
