"""Visits as calendar text (RFC 5545): whole days, folded lines, escaped words; knows no Django."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta

LINE_END = "\r\n"
# RFC 5545, 3.1: a line holds at most 75 octets, its end not counted.
LONGEST_LINE = 75


@dataclass(frozen=True)
class DayEvent:
    """Something on a whole day; `key` stays the same when its facts change."""

    key: str
    day: date
    summary: str
    description: str
    location: str
    changed_at: datetime
    is_cancelled: bool = False


def calendar_text(name: str, events: Iterable[DayEvent], *, domain: str) -> str:
    """The calendar as text, each line ended and folded as the standard asks."""
    lines = [
        "BEGIN:VCALENDAR",
        "VERSION:2.0",
        "PRODID:-//fleetdoors//visits//EN",
        "CALSCALE:GREGORIAN",
        f"X-WR-CALNAME:{_escaped(name)}",
    ]
    for event in events:
        lines += _event_lines(event, domain)
    lines.append("END:VCALENDAR")
    return "".join(_folded(line) + LINE_END for line in lines)


def _event_lines(event: DayEvent, domain: str) -> list[str]:
    stamp = event.changed_at.astimezone(UTC).strftime("%Y%m%dT%H%M%SZ")
    return [
        "BEGIN:VEVENT",
        f"UID:{event.key}@{domain}",
        f"DTSTAMP:{stamp}",
        f"DTSTART;VALUE=DATE:{event.day:%Y%m%d}",
        # The end of a whole day is the next one, not included.
        f"DTEND;VALUE=DATE:{event.day + timedelta(days=1):%Y%m%d}",
        f"SUMMARY:{_escaped(event.summary)}",
        f"DESCRIPTION:{_escaped(event.description)}",
        f"LOCATION:{_escaped(event.location)}",
        f"STATUS:{'CANCELLED' if event.is_cancelled else 'CONFIRMED'}",
        "TRANSP:TRANSPARENT",
        "END:VEVENT",
    ]


def _escaped(text: str) -> str:
    """RFC 5545, 3.3.11: backslash, semicolon, comma and line ends are written with a backslash."""
    plain = "".join(sign for sign in text.replace("\r\n", "\n").replace("\r", "\n")
                    if sign == "\n" or sign.isprintable())  # fmt: skip
    for sign in ("\\", ";", ","):
        plain = plain.replace(sign, "\\" + sign)
    return plain.replace("\n", "\\n")


def _folded(line: str) -> str:
    """Lines longer than 75 octets go on in the next, after a blank; no sign is cut in two."""
    pieces, piece, length = [], "", 0
    for sign in line:
        octets = len(sign.encode())
        if length + octets > LONGEST_LINE:
            pieces.append(piece)
            piece, length = " ", 1
        piece += sign
        length += octets
    return LINE_END.join((*pieces, piece))
