"""Figures: what is drawn is what was found, in the look's colours, and JSON can carry it."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from typing import Any

import numpy as np
import pytest
from scipy import stats

from analytics.charts import picture
from analytics.charts.demand import (
    demand_distribution,
    failures_ahead,
    likely_counts,
    positions_by_age,
    use_by_month,
)
from analytics.charts.pareto import LONGEST_NAME, MOST_BARS, largest_first
from analytics.charts.recurrence import drawn_points, failures_by_age
from analytics.charts.survival import (
    AgeBands,
    Curve,
    Weibull,
    hazard_chart,
    probability_plot,
    survival_chart,
)
from analytics.kernel.count_distribution import match_counts
from analytics.kernel.lifetimes import Lifetimes
from analytics.kernel.recurrence import RepairHistories, mean_cumulative_function
from analytics.kernel.survival import product_limit
from tests.source import ROOT

TOKENS = ROOT / "fleetdoors" / "static" / "fleetdoors" / "tokens.css"
LIFE = Weibull(2.5, 10_000.0)


def seen_curve() -> Curve:
    """Two hundred lives of a known Weibull, a third of them suspended at 12,000 cycles."""
    ages = stats.weibull_min.ppf((np.arange(200) + 0.5) / 200, LIFE.shape, scale=LIFE.scale_cycles)
    found = product_limit(Lifetimes.from_ages(np.minimum(ages, 12_000), ages < 12_000))
    return Curve(found.at_cycles, found.survival, found.lower, found.upper)


def bands() -> AgeBands:
    return AgeBands(
        np.array([0.0, 4_000.0, 8_000.0, 12_000.0]),
        np.array([4.0, 12.0, 0.0]),
        np.array([400_000.0, 300_000.0, 0.0]),
    )


def histories(doors: int = 12) -> RepairHistories:
    ages = np.linspace(1_000, 9_000, doors)
    return RepairHistories.from_columns(
        np.zeros(doors), np.full(doors, 10_000.0), np.arange(doors), ages
    )


DEMAND = match_counts(np.array([4.4]), np.array([5.3]))
FIGURES = {
    "survival": lambda: survival_chart(seen_curve(), LIFE, 12_000.0),
    "survival without a life": lambda: survival_chart(seen_curve(), None, 12_000.0),
    "probability plot": lambda: probability_plot(seen_curve(), LIFE),
    "hazard": lambda: hazard_chart(bands(), LIFE),
    "failures by age": lambda: failures_by_age(mean_cumulative_function(histories())),
    "failures of one door": lambda: failures_by_age(mean_cumulative_function(histories(1))),
    "pareto": lambda: largest_first(["a", "b"], [3, 1], "Failures"),
    "ahead": lambda: failures_ahead([1, 2], np.array([1.0, 2]), np.zeros(2), np.array([2.0, 5])),
    "demand": lambda: demand_distribution(DEMAND, 2, 7),
    "use": lambda: use_by_month(["2026-10", "2026-11"], [3, 0]),
    "ages": lambda: positions_by_age(np.array([0.0, 10.0, 20.0]), np.array([3, 4])),
}


def words_in(value: Any) -> Iterator[str]:
    if isinstance(value, str):
        yield value
    elif isinstance(value, dict):
        for inner in value.values():
            yield from words_in(inner)
    elif isinstance(value, list):
        for inner in value:
            yield from words_in(inner)


@pytest.mark.parametrize("name", FIGURES)
def test_json_carries_every_figure(name: str) -> None:
    figure = FIGURES[name]()
    assert json.loads(json.dumps(figure, allow_nan=False)) == figure


@pytest.mark.parametrize("name", FIGURES)
def test_every_axis_says_what_it_is(name: str) -> None:
    layout = FIGURES[name]()["layout"]
    assert layout["xaxis"]["title"]
    assert layout["yaxis"]["title"] or layout["yaxis"]["ticktext"]


@pytest.mark.parametrize("name", FIGURES)
def test_colours_are_tokens_of_the_look(name: str) -> None:
    known = set(re.findall(r"^\s*(--[a-z-]+):", TOKENS.read_text(), re.MULTILINE))
    used = {word for word in words_in(FIGURES[name]()) if word.startswith("--")}
    assert used
    assert used <= known
    assert not [word for word in words_in(FIGURES[name]()) if re.fullmatch(r"#\w{3,8}", word)]


def test_survival_starts_from_all_and_ends_at_the_oldest_life() -> None:
    high, low, seen, model = survival_chart(seen_curve(), LIFE, 12_000.0)["data"]
    assert (seen["x"][0], seen["y"][0]) == (0.0, 100.0)
    assert seen["x"][-1] == model["x"][-1] == 12_000.0
    # By scipy's own Weibull.
    expected = 100 * stats.weibull_min.sf(12_000.0, LIFE.shape, scale=LIFE.scale_cycles)
    assert model["y"][-1] == pytest.approx(expected, rel=1e-5)
    for below, middle, above in zip(low["y"], seen["y"], high["y"], strict=True):
        assert below <= middle <= above
    assert low["fill"] == "tonexty"


def test_a_weibull_life_is_a_straight_line_on_its_plot() -> None:
    """The slope of ln(-ln S) against ln age is the shape: Meeker and Escobar (1998), chapter 6."""
    points, model = probability_plot(seen_curve(), LIFE)["data"]
    for drawn, tolerance in ((model, 1e-3), (points, 0.06)):
        slope = np.polyfit(np.log(drawn["x"]), drawn["y"], 1)[0]
        assert slope == pytest.approx(LIFE.shape, rel=tolerance)


def test_the_plot_names_its_heights_in_per_cent() -> None:
    axis = probability_plot(seen_curve(), LIFE)["layout"]["yaxis"]
    heights = dict(zip(axis["ticktext"], axis["tickvals"], strict=True))
    assert heights["50"] == pytest.approx(np.log(np.log(2)), rel=1e-5)


def test_a_band_of_age_that_nobody_ran_has_no_bar() -> None:
    drawn, rate = hazard_chart(bands(), LIFE)["data"]
    assert drawn["y"] == [pytest.approx(0.1), pytest.approx(0.4), None]
    assert drawn["x"] == [2_000.0, 6_000.0, 10_000.0]
    # The rate of a steep life leaves the picture instead of flattening every bar.
    assert max(each for each in rate["y"] if each is not None) <= 0.6
    assert rate["y"][-1] is None


def test_failures_by_age_start_from_none_and_stop_where_few_doors_are_left() -> None:
    many = histories()
    end = many.end_cycles.copy()
    end[:8] = 6_000.0
    event = np.minimum(many.event_cycles, end)
    curve = mean_cumulative_function(
        RepairHistories.from_columns(many.start_cycles, end, many.event_door, event)
    )
    assert curve.at_risk[-1] == 4
    *_band, drawn = failures_by_age(curve)["data"]
    assert (drawn["x"][0], drawn["y"][0]) == (0.0, 0.0)
    assert len(drawn["x"]) == drawn_points(curve) + 1
    assert drawn["x"][-1] <= 6_000.0 < curve.at_cycles[-1]


def test_one_door_has_no_band() -> None:
    assert len(FIGURES["failures of one door"]()["data"]) == 1


def test_the_largest_stands_on_top_and_the_smallest_are_left_to_the_table() -> None:
    names = ["x" * 80, *(f"mode {n}" for n in range(20))]
    figure = largest_first(names, list(range(21, 0, -1)), "Failures")
    [bar] = figure["data"]
    assert bar["x"] == [float(n) for n in range(21, 21 - MOST_BARS, -1)]
    assert figure["layout"]["yaxis"]["autorange"] == "reversed"
    assert len(figure["layout"]["yaxis"]["ticktext"][0]) == LONGEST_NAME


def test_demand_bars_hold_nearly_all_chance_and_mark_the_range() -> None:
    [bar] = demand_distribution(DEMAND, 2, 7)["data"]
    assert sum(bar["y"]) == pytest.approx(100, abs=0.2)
    chances = dict(zip(bar["x"], bar["y"], strict=True))
    # scipy's negative binomial of that mean and variance.
    size, share = 4.4**2 / (5.3 - 4.4), 4.4 / 5.3
    assert chances[4.0] == pytest.approx(100 * stats.nbinom.pmf(4, size, share), rel=1e-4)
    marked = [
        count
        for count, colour in zip(bar["x"], bar["marker"]["color"], strict=True)
        if colour == picture.MIDDLE
    ]
    assert marked == [2.0, 3.0, 4.0, 5.0, 6.0, 7.0]


def test_a_need_of_thousands_is_drawn_with_few_bars() -> None:
    counts = likely_counts(match_counts(np.array([50_000.0]), np.array([4e6])))
    assert len(counts) <= 121
    assert np.ptp(counts) > 10_000


def test_counts_have_no_halves() -> None:
    assert use_by_month(["2026-10"], [2])["layout"]["yaxis"]["dtick"] == 1
    assert "dtick" not in use_by_month(["2026-10"], [200])["layout"]["yaxis"]


def test_what_is_not_finite_is_drawn_as_a_gap() -> None:
    assert picture.plain([1.0, np.nan, np.inf]) == [1.0, None, None]


@pytest.mark.parametrize(("length", "shown"), [(0, 0), (1, 1), (40, 40), (1_000, 40)])
def test_tables_are_thinned_with_both_ends_kept(length: int, shown: int) -> None:
    kept = picture.spread(length)
    assert len(kept) == shown
    if length:
        assert (kept[0], kept[-1]) == (0, length - 1)
