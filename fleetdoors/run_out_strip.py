"""Weeks ahead with the chance that a part has run out by then."""

from collections.abc import Sequence
from dataclasses import dataclass

from fleetdoors.drawing import per_cent

FULL_HEIGHT = 40
GAP_SHARE = 0.16


@dataclass(frozen=True, slots=True)
class RunOutWeek:
    """A week and the chance, 0 to 1, of having run out by its end."""

    label: str
    chance: float


@dataclass(frozen=True, slots=True)
class PlacedWeek:
    """One week as a small door that comes down with the chance of running out."""

    x: str
    width: str
    middle: str
    height: str
    label: str
    words: str
    is_past_limit: bool


@dataclass(frozen=True, slots=True)
class RunOutStrip:
    """The weeks and the line of the chance that is accepted, as SVG lengths."""

    weeks: tuple[PlacedWeek, ...]
    limit_y: str
    limit_words: str


def draw_run_out(weeks: Sequence[RunOutWeek], *, limit: float) -> RunOutStrip:
    """Place the weeks; those whose chance is above ``limit`` are told apart."""
    for chance in (limit, *(week.chance for week in weeks)):
        if not 0 <= chance <= 1:
            raise ValueError(f"A chance must lie between 0 and 1, got {chance!r}")
    pitch = 1 / len(weeks) if weeks else 1.0
    return RunOutStrip(
        weeks=tuple(
            _place(week, number * pitch, pitch, limit) for number, week in enumerate(weeks)
        ),
        limit_y=f"{FULL_HEIGHT * limit:.1f}",
        limit_words=_words(limit),
    )


def _place(week: RunOutWeek, left: float, pitch: float, limit: float) -> PlacedWeek:
    return PlacedWeek(
        x=per_cent(left + pitch * GAP_SHARE / 2),
        width=per_cent(pitch * (1 - GAP_SHARE)),
        middle=per_cent(left + pitch / 2),
        height=f"{FULL_HEIGHT * week.chance:.1f}",
        label=week.label,
        words=_words(week.chance),
        is_past_limit=week.chance > limit,
    )


def _words(chance: float) -> str:
    return f"{100 * chance:.0f} %"
