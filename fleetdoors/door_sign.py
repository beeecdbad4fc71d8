"""The sign of a task's state: a small roll-up door, drawn from one number and one state."""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from functools import lru_cache

SLATS = 8
SLAT_HEIGHT = 4
GAP = 1
LEFT, RIGHT = 4, 36
LINTEL, FLOOR, BOTTOM = 4, 36, 40
STRIPE = 4
DRAWN_STEPS = 64  # the sign is told apart to a sixty-fourth of the travel, which bounds the cache


class DoorState(StrEnum):
    """The words of a task's state that have a drawing."""

    LATER = "later"
    SOON = "soon"
    DUE = "due"
    LATE = "late"
    CONDITION = "condition"
    UNKNOWN = "unknown"
    OUT_OF_SERVICE = "out_of_service"


class Tone(StrEnum):
    """How dark the slats are, from a door that is up to one that is shut."""

    OPEN = "open"
    HALF = "half"
    SHUT = "shut"
    NONE = "none"


@dataclass(frozen=True, slots=True)
class Slat:
    """One visible slat: its upper edge and height in units of the 40 by 40 sign."""

    top: float
    height: float


@dataclass(frozen=True, slots=True)
class DoorSign:
    """What to draw, each shape as the path data of an SVG of 40 by 40 units."""

    state: DoorState
    tone: Tone
    slats: tuple[Slat, ...]
    edge: float
    hatch_height: float
    is_dashed: bool
    has_notch: bool
    has_bar: bool

    @property
    def slat_path(self) -> str:
        """The slats as filled rectangles, or as broken lines, staggered, when they are dashed."""
        if self.is_dashed:
            return "".join(_dashes(slat, row % 2) for row, slat in enumerate(self.slats))
        return "".join(
            f"M{LEFT} {_short(s.top)}H{RIGHT}v{_short(s.height)}H{LEFT}z" for s in self.slats
        )

    @property
    def curtain_path(self) -> str:
        """The whole curtain behind the slats, which shows between them."""
        return f"M{LEFT} {LINTEL}H{RIGHT}V{_short(self.edge)}H{LEFT}z"

    @property
    def edge_path(self) -> str:
        """The heavy lower edge of the door, which shows how far it has come down."""
        if self.is_dashed:
            return ""
        return f"M{LEFT} {_short(self.edge - 2)}H{RIGHT}v2H{LEFT}z"

    @property
    def hatch_path(self) -> str:
        """The slanted stripes of the floor line of a door that is past due."""
        return _stripes(BOTTOM - self.hatch_height, BOTTOM) if self.hatch_height else ""

    @property
    def hatch_box_path(self) -> str:
        """The plain ground under the stripes."""
        if not self.hatch_height:
            return ""
        return f"M0 {_short(BOTTOM - self.hatch_height)}H{BOTTOM}V{BOTTOM}H0z"


def draw_door(share: float | None, state: DoorState | str) -> DoorSign:
    """Draw the door of a task that has used a share of its interval.

    A door is drawn shut when its task is due or late, and only then: one that is nearly
    there keeps a gap at the floor. Without a share only ``unknown`` and ``out_of_service``
    can be drawn.
    """
    state = DoorState(state)
    if share is None:
        if state not in (DoorState.UNKNOWN, DoorState.OUT_OF_SERVICE, DoorState.CONDITION):
            raise ValueError(f"A door in state {state.value!r} needs a share used, got None")
        return _draw(DRAWN_STEPS if state is DoorState.UNKNOWN else 0, state)
    if not 0 <= share < float("inf"):
        raise ValueError(f"The share used must be a number from 0 up, got {share!r}")
    return _draw(min(round(share * DRAWN_STEPS), 4 * DRAWN_STEPS), state)


@lru_cache(maxsize=4 * DRAWN_STEPS * len(DoorState))
def _draw(steps: int, state: DoorState) -> DoorSign:
    travel = _travel(steps / DRAWN_STEPS, state)
    edge = LINTEL + travel * (FLOOR - LINTEL)
    return DoorSign(
        state=state,
        tone=_tone(travel, state),
        slats=_slats(edge),
        edge=edge,
        hatch_height=_hatch_height(steps / DRAWN_STEPS) if state is DoorState.LATE else 0,
        is_dashed=state is DoorState.UNKNOWN,
        has_notch=state is DoorState.CONDITION,
        has_bar=state is DoorState.OUT_OF_SERVICE,
    )


def _travel(share: float, state: DoorState) -> float:
    """How far the door has come down, 0 to 1."""
    if state in (DoorState.DUE, DoorState.LATE):
        return 1.0
    if state in (DoorState.LATER, DoorState.SOON):
        return max(min(share, 1 - 1 / SLATS), 0.5 / SLATS)
    return max(min(share, 1.0), 0.5 / SLATS)


def _tone(travel: float, state: DoorState) -> Tone:
    if state is DoorState.UNKNOWN:
        return Tone.NONE
    if travel >= 1:
        return Tone.SHUT
    if state is DoorState.SOON or travel >= 0.5:
        return Tone.HALF
    return Tone.OPEN


def _slats(edge: float) -> tuple[Slat, ...]:
    """The slats above a lower edge, counted up from it as on a real curtain."""
    slats: list[Slat] = []
    bottom = edge
    while bottom > LINTEL:
        top = max(bottom - SLAT_HEIGHT, LINTEL)
        height = bottom - top - (GAP if bottom < edge else 0)
        if height > 0:
            slats.append(Slat(top=top, height=height))
        bottom -= SLAT_HEIGHT
    return tuple(reversed(slats))


def _dashes(slat: Slat, row: int) -> str:
    """A slat as dashes, every second row moved by half a dash."""
    starts = (LEFT + 1, LEFT + 12, LEFT + 23) if row == 0 else (LEFT + 6, LEFT + 17)
    return "".join(f"M{x} {_short(slat.top + 1)}h8v2h-8z" for x in starts)


def _hatch_height(share: float) -> float:
    """Two slats high as soon as it is late, six when a whole interval too late."""
    lateness = min(max(share - 1, 0), 1)
    return 2 * SLAT_HEIGHT + round(lateness * 4) * SLAT_HEIGHT


def _stripes(top: float, bottom: float) -> str:
    """Stripes at 45 degrees over the whole width, cut at the edges of the box."""
    height = bottom - top
    paths: list[str] = []
    start = -height
    while start < BOTTOM:
        corners = [(start, bottom), (start + STRIPE, bottom)]
        corners += [(start + STRIPE + height, top), (start + height, top)]
        inside = _cut(corners, top, bottom)
        if inside:
            points = "L".join(f"{_short(x)} {_short(y)}" for x, y in inside)
            paths.append(f"M{points}z")
        start += 2 * STRIPE
    return "".join(paths)


def _cut(
    corners: Sequence[tuple[float, float]], top: float, bottom: float
) -> list[tuple[float, float]]:
    """The part of a stripe that lies between x = 0 and x = 40."""
    for wall, sign in ((0.0, 1.0), (float(BOTTOM), -1.0)):
        kept: list[tuple[float, float]] = []
        for (x1, y1), (x2, y2) in zip(corners, [*corners[1:], *corners[:1]], strict=True):
            if sign * (x1 - wall) >= 0:
                kept.append((x1, y1))
            if (x1 - wall) * (x2 - wall) < 0:
                kept.append((wall, min(max(y1 + (wall - x1) * (y2 - y1) / (x2 - x1), top), bottom)))
        corners = kept
        if len(corners) < 3:
            return []
    return list(corners)


def _short(number: float) -> str:
    return f"{number:.2f}".rstrip("0").rstrip(".")
