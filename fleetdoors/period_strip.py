"""Periods side by side, each an opening whose slats come down with what it holds."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from fleetdoors.drawing import per_cent

FULL_HEIGHT = 40
SILL_HEIGHT = 12
GAP_SHARE = 0.18


@dataclass(frozen=True, slots=True)
class Period:
    """A period and how full it is; above 1 is more than there is room for, None = not known."""

    label: str
    share: float | None


@dataclass(frozen=True, slots=True)
class PlacedPeriod:
    """One period as SVG lengths; `over` is what does not fit, below the sill."""

    x: str
    width: str
    label_x: str
    height: str
    over: str
    label: str
    is_known: bool
    is_past: bool


@dataclass(frozen=True, slots=True)
class PeriodStrip:
    """The periods, as SVG lengths."""

    periods: tuple[PlacedPeriod, ...]


def draw_periods(periods: Sequence[Period]) -> PeriodStrip:
    """Place the periods; what is more than full hangs below the sill, at most as deep again."""
    pitch = 1 / len(periods) if periods else 1.0
    return PeriodStrip(tuple(_place(each, k * pitch, pitch) for k, each in enumerate(periods)))


def _place(period: Period, left: float, pitch: float) -> PlacedPeriod:
    share = period.share or 0.0
    if share < 0:
        raise ValueError(f"A period cannot be less than empty, got {share!r}")
    return PlacedPeriod(
        x=per_cent(left + pitch * GAP_SHARE / 2),
        width=per_cent(pitch * (1 - GAP_SHARE)),
        label_x=per_cent(left + pitch * GAP_SHARE / 2),
        height=f"{FULL_HEIGHT * min(share, 1.0):.1f}",
        over=f"{SILL_HEIGHT * min(max(share - 1.0, 0.0), 1.0):.1f}",
        label=period.label,
        is_known=period.share is not None,
        is_past=share > 1.0,
    )
