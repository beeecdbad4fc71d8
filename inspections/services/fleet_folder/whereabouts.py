"""Which zone's clock a door's moments are on: that of the depot where its truck lived that day.

The truck is the one the door was mounted on that day (before its first mounting, its first), the
depot is the truck's stay of that day or else its depot of today. A door on no truck keeps UTC.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np

from inspections.services.fleet_folder.moments import DAY, UNKNOWN, Ints, Mask, iso_texts
from inspections.services.fleet_folder.zones import to_local, to_utc

ALWAYS = date.min
FIRST_DAY = date(1970, 1, 1).toordinal()
# Wider than any day number, so that door and day make one sortable number.
SPAN = 1 << 32


@dataclass(frozen=True)
class Piece:
    """From this day on, here."""

    from_on: date
    place: str


def depots_of_truck(depot: str, stays: Sequence[tuple[Piece, date | None]]) -> list[Piece]:
    """Where a truck lived: its stays, and its depot of today outside them."""
    pieces: list[Piece] = []
    ordered = sorted(stays, key=lambda stay: stay[0].from_on)
    for index, (piece, until) in enumerate(ordered):
        pieces.append(Piece(piece.from_on if pieces else ALWAYS, piece.place))
        following = ordered[index + 1][0].from_on if index + 1 < len(ordered) else None
        if until is not None and (following is None or until < following):
            pieces.append(Piece(until, depot))
    return pieces or [Piece(ALWAYS, depot)]


def depots_of_door(
    mountings: Sequence[Piece], trucks: Mapping[str, Sequence[Piece]]
) -> list[Piece]:
    """Where a door lived: with the truck it was mounted on, until the next mounting."""
    pieces: list[Piece] = []
    ordered = sorted(mountings, key=lambda piece: piece.from_on)
    for index, mounting in enumerate(ordered):
        start = mounting.from_on if index else ALWAYS
        end = ordered[index + 1].from_on if index + 1 < len(ordered) else date.max
        stays = trucks.get(mounting.place, ())
        at = bisect_right([stay.from_on for stay in stays], start) - 1
        for stay in stays[max(at, 0) :]:
            if stay.from_on < end:
                pieces.append(Piece(max(start, stay.from_on), stay.place))
    return pieces


class Clocks:
    """The zones of many owners (doors, or depots) over time, for whole columns at once."""

    def __init__(self, zones: Sequence[Sequence[Piece]]) -> None:
        self.names = sorted({piece.place for pieces in zones for piece in pieces} | {"UTC"})
        number = {name: index for index, name in enumerate(self.names)}
        starts, places = [], []
        for owner, pieces in enumerate(zones):
            starts.append(owner * SPAN)
            places.append(number[pieces[0].place] if pieces else number["UTC"])
            for piece in pieces[1:]:
                starts.append(owner * SPAN + piece.from_on.toordinal())
                places.append(number[piece.place])
        self._starts = np.array(starts, np.int64)
        self._places = np.array(places, np.int64)

    def utc(self, owner: Ints, moments: Ints, has_offset: Mask) -> Ints:
        """Local moments in UTC; those that came with an offset, and unknown ones, stay."""
        result = moments.copy()
        local = ~has_offset & (moments != UNKNOWN) & (owner >= 0)
        if len(self.names) == 1 or not local.any():
            return result
        zone = self._zone(owner, moments)
        for number in np.unique(zone[local]).tolist():
            at = np.flatnonzero(local & (zone == number))
            result[at] = to_utc(moments[at], self.names[number])
        return result

    def start_of_day(self, owner: int, day: date) -> int:
        """When a day begins on the owner's clock, in UTC."""
        local = np.array([(day.toordinal() - FIRST_DAY) * DAY], np.int64)
        return int(self.utc(np.array([owner]), local, np.zeros(1, bool))[0])

    def texts(self, owner: Ints, moments: Ints) -> list[str]:
        """UTC moments as the folder writes them: on the owner's clock, with an offset where only
        that makes them unmistakable."""
        if len(self.names) == 1:
            return iso_texts(moments)
        known = moments != UNKNOWN
        local = self._local(moments, self._zone(owner, moments))
        # The day on the owner's own clock decides its zone, so look once more with that day.
        local = self._local(moments, self._zone(owner, local))
        back = self.utc(owner, local, np.zeros(len(local), bool))
        texts = iso_texts(np.where(known, local, UNKNOWN))
        for row in np.flatnonzero(known & (back != moments)).tolist():
            texts[row] = iso_texts(moments[row : row + 1])[0] + "Z"
        return texts

    def _zone(self, owner: Ints, moments: Ints) -> Ints:
        days = np.where(moments == UNKNOWN, 0, moments) // DAY + FIRST_DAY
        at = np.searchsorted(self._starts, owner * SPAN + days, side="right") - 1
        return self._places[np.maximum(at, 0)]

    def _local(self, moments: Ints, zone: Ints) -> Ints:
        result = moments.copy()
        for number in np.unique(zone).tolist():
            at = np.flatnonzero((zone == number) & (moments != UNKNOWN))
            result[at] = to_local(moments[at], self.names[number])
        return result
