"""An estimate with its interval on a scale that several of them share."""

from collections.abc import Iterable
from dataclasses import dataclass

from fleetdoors.drawing import Scale, round_steps


@dataclass(frozen=True, slots=True)
class AxisMark:
    """A round value of the common scale."""

    x: str
    value: float
    anchor: str


@dataclass(frozen=True, slots=True)
class IntervalScale:
    """The scale on which estimates are compared: from nothing to ``end``."""

    end: float
    marks: tuple[AxisMark, ...]


@dataclass(frozen=True, slots=True)
class IntervalBar:
    """Places of one estimate, its bounds and what it is compared with, as SVG lengths."""

    band_x: str
    band_width: str
    end_x: str
    estimate_x: str
    reference_x: str
    is_open_above: bool


def common_scale(values: Iterable[float | None]) -> IntervalScale:
    """A scale from 0 that holds every finite value and ends on a round one."""
    highest = max((v for v in values if v is not None and v < float("inf")), default=0.0)
    if not highest > 0:
        raise ValueError(f"A common scale needs a value above 0, got at most {highest}")
    steps = round_steps(0, highest, 4)
    end = steps[-1] if steps[-1] >= highest else steps[-1] + (steps[1] - steps[0])
    scale = Scale(0, end)
    marks = (*steps, end) if end > steps[-1] else steps
    return IntervalScale(end, tuple(_mark(scale, value) for value in marks))


def draw_interval(
    *,
    lower: float,
    scale: IntervalScale,
    estimate: float | None = None,
    upper: float | None = None,
    reference: float | None = None,
) -> IntervalBar:
    """Place one estimate; without an upper bound the band runs open to the scale's end."""
    if upper is not None and upper < lower:
        raise ValueError(f"An upper bound must not lie below the lower, got {lower} to {upper}")
    line = Scale(0, scale.end)
    is_open_above = upper is None or upper > scale.end
    high = scale.end if upper is None else upper
    return IntervalBar(
        band_x=line.place(lower),
        band_width=line.width(lower, high),
        end_x=line.place(high),
        estimate_x="" if estimate is None else line.place(estimate),
        reference_x="" if reference is None else line.place(reference),
        is_open_above=is_open_above,
    )


def _mark(scale: Scale, value: float) -> AxisMark:
    share = scale.share(value)
    anchor = "start" if share < 0.05 else "end" if share > 0.95 else "middle"
    return AxisMark(x=scale.place(value), value=value, anchor=anchor)
