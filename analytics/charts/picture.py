"""A chart with the words around it, and the layout that every chart shares."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

Figure = dict[str, Any]
Trace = dict[str, Any]
Values = Sequence[float] | np.ndarray

# Names of the look's tokens: the page's script puts the colours of the scheme in their place.
INK, SOFT, BAND, ACCENT = "--ink", "--ink-soft", "--band", "--accent"
LIGHT, MIDDLE, DARK = "--slat-open", "--slat-half", "--slat-shut"
THIN, STRONG = 1.5, 2.5
MOST_TABLE_ROWS = 40


@dataclass(frozen=True)
class Picture:
    """A figure under its finding, with the numbers behind it for those who cannot see it."""

    id: str
    finding: str
    note: str
    figure: Figure
    headings: list[str]
    rows: list[list[str]]
    is_tall: bool = False


def figure(
    data: list[Trace], *, xaxis: Figure, yaxis: Figure, annotations: Sequence[Figure] = ()
) -> Figure:
    """A figure with its two axes and the words written into it."""
    layout: Figure = {"xaxis": xaxis, "yaxis": yaxis}
    if annotations:
        layout["annotations"] = list(annotations)
    return {"data": data, "layout": layout}


def from_zero(title: str) -> Figure:
    """An axis that begins at nothing."""
    return {"title": title, "rangemode": "tozero"}


def bars(x: Values | list[str], y: Values, *, colour: str, hover: str) -> Trace:
    """Upright bars."""
    return {
        "type": "bar",
        "x": x if isinstance(x, list) else plain(x),
        "y": plain(y),
        "marker": {"color": colour},
        "hovertemplate": hover,
    }


def line(x: Values, y: Values, *, colour: str, name: str, hover: str) -> Trace:
    """A thin line through points."""
    return {
        "x": plain(x),
        "y": plain(y),
        "name": name,
        "mode": "lines",
        "line": {"width": STRONG, "color": colour},
        "hovertemplate": hover,
    }


def steps(x: Values, y: Values, *, colour: str, name: str, hover: str) -> Trace:
    """A line that holds each value until the next."""
    drawn = line(x, y, colour=colour, name=name, hover=hover)
    return drawn | {"line": {"width": STRONG, "color": colour, "shape": "hv"}}


def band(x: Values, low: Values, high: Values, *, shape: str = "linear") -> list[Trace]:
    """The area between two lines."""
    edge = {
        "x": plain(x),
        "mode": "lines",
        "line": {"width": 0, "shape": shape},
        "hoverinfo": "skip",
    }
    return [
        edge | {"y": plain(high)},
        edge | {"y": plain(low), "fill": "tonexty", "fillcolor": BAND},
    ]


def label(x: float, y: float, text: str, *, colour: str = INK, anchor: str = "left") -> Figure:
    """Words beside a line, in place of a legend."""
    return {
        "x": x,
        "y": y,
        "text": text,
        "showarrow": False,
        "xanchor": anchor,
        "yanchor": "bottom",
        "font": {"color": colour},
    }


def plain(values: Values) -> list[float | None]:
    """Numbers as JSON knows them: what is not finite becomes nothing."""
    array = np.asarray(values, dtype=float)
    return [float(f"{each:.6g}") if np.isfinite(each) else None for each in array.tolist()]


def spread(length: int, most: int = MOST_TABLE_ROWS) -> list[int]:
    """Indices of at most so many rows, spread evenly, both ends kept."""
    if length == 0:
        return []
    return np.unique(np.linspace(0, length - 1, min(length, most)).round().astype(int)).tolist()
