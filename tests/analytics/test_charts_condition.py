"""Pictures of a door's condition: points, limits as they were kept, and the cable's line."""

from __future__ import annotations

import json
import re

import numpy as np
import pytest
from scipy import stats

from analytics.charts import picture
from analytics.charts.condition import (
    CableDrawn,
    Measured,
    cable_over_cycles,
    quantity_over_cycles,
)
from analytics.kernel.cable_trend import fit_cable_trend
from tests.analytics.test_charts import TOKENS, words_in

NONE = np.full(3, np.nan)


def measured(**sides: np.ndarray) -> Measured:
    limits = dict.fromkeys(("limit_low", "near_low", "near_high", "limit_high"), NONE) | sides
    return Measured(
        at_cycles=np.array([100.0, 1_100.0, 2_100.0]),
        value=np.array([32.0, 31.5, 29.4]),
        is_when_new=np.array([True, False, False]),
        **limits,
    )


def worn_cable(points: int = 8) -> CableDrawn:
    cycles = np.linspace(1_000, 8_000, points)
    # A tenth of a milliohm up and down around a line of 5 mΩ per 1,000 cycles.
    ohm = 0.1 + 5e-6 * cycles + 1e-4 * (-1.0) ** np.arange(points)
    return CableDrawn(
        before_cycles=np.array([200.0, 600.0]),
        before_ohm=np.array([0.15, 0.16]),
        at_cycles=cycles,
        ohm=ohm,
        watch_ohm=0.13,
        act_ohm=0.16,
        trend=fit_cable_trend(cycles, ohm, 0.16),
    )


TWO_SIDED = measured(
    limit_low=np.full(3, 30.0),
    near_low=np.full(3, 31.0),
    near_high=np.full(3, 33.0),
    limit_high=np.full(3, 34.0),
)
FIGURES = {
    "two sides": lambda: quantity_over_cycles(TWO_SIDED, "V"),
    "no limits": lambda: quantity_over_cycles(measured(), "s"),
    "worn cable": lambda: cable_over_cycles(worn_cable()),
    "new cable": lambda: cable_over_cycles(worn_cable(3)),
}


@pytest.mark.parametrize("name", FIGURES)
def test_json_carries_every_figure_in_the_looks_colours(name: str) -> None:
    figure = FIGURES[name]()
    assert json.loads(json.dumps(figure, allow_nan=False)) == figure
    known = set(re.findall(r"^\s*(--[a-z-]+):", TOKENS.read_text(), re.MULTILINE))
    used = {word for word in words_in(figure) if word.startswith("--")}
    assert used
    assert used <= known


@pytest.mark.parametrize(("name", "unit"), [("two sides", "V"), ("worn cable", "mΩ")])
def test_axes_say_what_and_in_which_unit(name: str, unit: str) -> None:
    layout = FIGURES[name]()["layout"]
    assert f"({unit})" in layout["yaxis"]["title"]
    assert "cycles" in layout["xaxis"]["title"]


def test_limits_of_both_sides_are_dashed_and_named() -> None:
    *limits, points = FIGURES["two sides"]()["data"]
    assert [trace["y"][0] for trace in limits] == [30.0, 31.0, 34.0, 33.0]
    assert {trace["line"]["dash"] for trace in limits} == {"dash"}
    words = FIGURES["two sides"]()["layout"]["annotations"]
    assert [word["text"] for word in words] == ["limit", "near", "limit", "near"]
    assert points["y"] == [32.0, 31.5, 29.4]
    assert points["marker"]["symbol"] == ["square", "circle", "circle"]


def test_a_limit_is_drawn_as_it_was_at_each_measurement() -> None:
    """Two measurements with their own limits, one before there was any."""
    changed = np.array([np.nan, 29.0, 30.0])
    [limit, _points] = quantity_over_cycles(measured(limit_low=changed, near_low=changed), "V")[
        "data"
    ]
    assert limit["y"] == [29.0, 29.0, 30.0, 30.0]
    assert limit["x"][1:3] == [1_100.0, 2_100.0]
    assert limit["x"][0] < 100.0
    assert limit["x"][-1] > 2_100.0


def test_without_limits_only_the_points_are_drawn() -> None:
    figure = FIGURES["no limits"]()
    assert len(figure["data"]) == 1
    assert "annotations" not in figure["layout"]


def test_one_measurement_has_a_limit_as_long_as_can_be_seen() -> None:
    one = Measured(
        *(np.array([value]) for value in (500.0, 12.3, False, 12.2, 12.4, np.nan, np.nan))
    )
    limit, _near, points = quantity_over_cycles(one, "V")["data"]
    assert limit["x"][-1] - limit["x"][0] >= 100
    assert points["x"] == [500.0]


def test_the_cables_line_is_that_of_theil_and_sen_within_its_range() -> None:
    cable = worn_cable()
    traces = {trace.get("name"): trace for trace in cable_over_cycles(cable)["data"]}
    x, y = traces["trend"]["x"], traces["trend"]["y"]
    # By scipy's own implementation, in milliohm.
    slope = stats.theilslopes(1_000 * cable.ohm, cable.at_cycles).slope
    assert (y[-1] - y[0]) / (x[-1] - x[0]) == pytest.approx(slope, rel=1e-3)
    high, low = (trace for trace in cable_over_cycles(cable)["data"] if "name" not in trace)
    for below, middle, above in zip(low["y"], y, high["y"], strict=True):
        assert below - 1e-6 <= middle <= above + 1e-6


def test_the_line_ends_where_it_meets_the_act_limit() -> None:
    cable = worn_cable()
    assert cable.trend is not None
    traces = {trace.get("name"): trace for trace in cable_over_cycles(cable)["data"]}
    assert traces["trend"]["x"][-1] == pytest.approx(cable.trend.crossing_cycles, rel=1e-5)
    assert traces["trend"]["y"][-1] == pytest.approx(160.0, rel=1e-4)
    assert traces["act"]["y"] == [160.0] * 4


def test_a_far_crossing_does_not_squeeze_the_points_together() -> None:
    near = worn_cable()
    far = fit_cable_trend(near.at_cycles, near.ohm, 5.0)
    assert far.crossing_cycles is not None
    assert far.crossing_cycles > 100_000
    drawn = cable_over_cycles(CableDrawn(**{**vars(near), "trend": far}))
    assert max(drawn["data"][2]["x"]) <= 2 * 8_000


def test_no_line_where_no_trend_is_proven_and_the_cable_before_stands_apart() -> None:
    traces = {trace.get("name"): trace for trace in FIGURES["new cable"]()["data"]}
    assert "trend" not in traces
    assert traces["cable before"]["x"] == [200.0, 600.0]
    assert traces["cable before"]["marker"]["color"] == picture.SOFT
    assert traces["this cable"]["marker"]["color"] == picture.INK
