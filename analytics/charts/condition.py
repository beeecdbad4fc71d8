"""What was measured on a door, over its cycles, against the limits kept with each measurement."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from django.utils.translation import gettext as _

from analytics.charts import picture
from analytics.charts.picture import Figure, Trace
from analytics.kernel.cable_trend import CableTrend

MARGIN_SHARE, LEAST_MARGIN_CYCLES = 0.05, 50.0
MILLI = 1_000.0
POINTS = 20
# A line carried on for longer than it was measured says little.
FARTHEST_AHEAD = 1.0


@dataclass(frozen=True)
class Measured:
    """One quantity of one door, (n,), the earliest first; a limit nan = none on that side."""

    at_cycles: np.ndarray
    value: np.ndarray
    is_when_new: np.ndarray
    limit_low: np.ndarray
    near_low: np.ndarray
    near_high: np.ndarray
    limit_high: np.ndarray


@dataclass(frozen=True)
class CableDrawn:
    """Resistances of the cables before, (m,), and of the present one, (k,), with its limits."""

    before_cycles: np.ndarray
    before_ohm: np.ndarray
    at_cycles: np.ndarray
    ohm: np.ndarray
    watch_ohm: float
    act_ohm: float
    trend: CableTrend | None


def quantity_over_cycles(measured: Measured, unit: str) -> Figure:
    """Points joined by a line; limits dashed, each at the value it had then."""
    start, end = _ends(measured.at_cycles)
    lines: list[Trace] = []
    words: list[Figure] = []
    for near, limit in (
        (measured.near_low, measured.limit_low),
        (measured.near_high, measured.limit_high),
    ):
        # Where a quantity is either right or wrong, both limits are the same line.
        drawn = [(limit, picture.DARK, _("limit"))]
        if not np.array_equal(near, limit, equal_nan=True):
            drawn.append((near, picture.MIDDLE, _("near")))
        for level, colour, word in drawn:
            if np.isfinite(level).any():
                lines.append(_limit_line(measured.at_cycles, level, colour, word))
                words.append(picture.label(end, _last(level), word, colour=colour, anchor="right"))
    return picture.figure(
        [*lines, _points(measured, unit)],
        xaxis={"title": _("Lifetime cycles of the door"), "range": [start, end]},
        yaxis={"title": _("Measured (%(unit)s)") % {"unit": unit}},
        annotations=words,
    )


def _points(measured: Measured, unit: str) -> Trace:
    drawn = picture.line(
        measured.at_cycles,
        measured.value,
        colour=picture.INK,
        name=_("measured"),
        hover=f"%{{y:.4g}} {unit}, " + _("%{x:,.0f} cycles") + "<extra></extra>",
    )
    symbols = ["square" if new else "circle" for new in measured.is_when_new.tolist()]
    return drawn | {
        "mode": "lines+markers",
        "line": {"width": picture.THIN, "color": picture.INK},
        "marker": {"size": 8, "color": picture.INK, "symbol": symbols},
    }


def _limit_line(cycles: np.ndarray, level: np.ndarray, colour: str, name: str) -> Trace:
    """A limit through its values at the measurements, carried on to both ends."""
    start, end = _ends(cycles)
    known = np.isfinite(level)
    x = np.concatenate(([start], cycles[known], [end]))
    y = np.concatenate((level[known][:1], level[known], level[known][-1:]))
    drawn = picture.line(x, y, colour=colour, name=name, hover="%{y:.4g}<extra></extra>")
    return drawn | {"line": {"width": picture.THIN, "color": colour, "dash": "dash"}}


def _ends(cycles: np.ndarray) -> tuple[float, float]:
    low, high = float(cycles.min()), float(cycles.max())
    margin = max(MARGIN_SHARE * (high - low), LEAST_MARGIN_CYCLES)
    return low - margin, high + margin


def _last(values: np.ndarray) -> float:
    return float(values[np.isfinite(values)][-1])


def cable_over_cycles(cable: CableDrawn) -> Figure:
    """Resistance at 20 °C: the present cable in full ink, and its line up to the limit."""
    reach = _reach(cable)
    traces = [
        _cable_points(cable.before_cycles, cable.before_ohm, picture.SOFT, _("cable before")),
        *_cable_line(cable, reach),
        _cable_points(cable.at_cycles, cable.ohm, picture.INK, _("this cable")),
    ]
    words = []
    for level, colour, word in (
        (cable.watch_ohm, picture.MIDDLE, _("watch")),
        (cable.act_ohm, picture.DARK, _("act")),
    ):
        ends = np.array([cable.at_cycles.min(), reach])
        traces.append(_limit_line(ends, np.full(2, MILLI * level), colour, word))
        words.append(
            picture.label(_ends(ends)[1], MILLI * level, word, colour=colour, anchor="right")
        )
    return picture.figure(
        [trace for trace in traces if trace["x"]],
        xaxis={"title": _("Lifetime cycles of the door")},
        yaxis={"title": _("Resistance at 20 °C (mΩ)"), "rangemode": "tozero"},
        annotations=words,
    )


def _cable_points(cycles: np.ndarray, ohm: np.ndarray, colour: str, name: str) -> Trace:
    hover = _("%{y:.0f} mΩ at %{x:,.0f} cycles") + "<extra></extra>"
    drawn = picture.line(cycles, MILLI * ohm, colour=colour, name=name, hover=hover)
    return drawn | {"mode": "markers", "marker": {"size": 8, "color": colour}}


def _cable_line(cable: CableDrawn, reach: float) -> list[Trace]:
    """The line with the range of its slope, and the range of its crossing; none if not proven."""
    trend = cable.trend
    if trend is None or not trend.rises:
        return []
    x = np.linspace(float(cable.at_cycles.min()), reach, POINTS)
    away = x - trend.middle_cycles
    one, other = (
        MILLI * (trend.middle_ohm + slope * away)
        for slope in (trend.slope_lower, trend.slope_upper)
    )
    middle = MILLI * (trend.middle_ohm + trend.slope_ohm_per_cycle * away)
    hover = _("%{y:.0f} mΩ at %{x:,.0f} cycles") + "<extra></extra>"
    return [
        *picture.band(x, np.minimum(one, other), np.maximum(one, other)),
        picture.line(x, middle, colour=picture.ACCENT, name=_("trend"), hover=hover),
    ]


def _reach(cable: CableDrawn) -> float:
    """How far the picture goes: to the crossing, if it lies no farther ahead than was measured."""
    first, last = float(cable.at_cycles.min()), float(cable.at_cycles.max())
    crossing = cable.trend.crossing_cycles if cable.trend else None
    if crossing is None:
        return last
    return float(np.clip(crossing, last, last + FARTHEST_AHEAD * (last - first)))
