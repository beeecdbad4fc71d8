"""Strips place things where their values say, and refuse what can't be placed."""

import pytest

from fleetdoors.drawing import Scale, per_cent, round_steps
from fleetdoors.interval_bar import common_scale, draw_interval
from fleetdoors.life_strip import (
    DateMark,
    Ending,
    EventKind,
    EventMark,
    PartSpan,
    ReadingMark,
    draw_life,
)
from fleetdoors.run_out_strip import RunOutWeek, draw_run_out


def span(start: float, end: float, ending: Ending, row: str = "Coil cable") -> PartSpan:
    return PartSpan(row=row, start_cycles=start, end_cycles=end, ending=ending, label="")


def test_a_scale_places_and_holds_at_its_ends() -> None:
    scale = Scale(1000, 5000)
    assert [scale.place(v) for v in (0, 1000, 2500, 5000, 9000)] == [
        "0%",
        "0%",
        "37.5%",
        "100%",
        "100%",
    ]
    assert scale.width(2000, 3000) == "25%"


def test_a_scale_without_length_is_refused() -> None:
    with pytest.raises(ValueError, match="got 5000 to 5000"):
        Scale(5000, 5000)


def test_per_cent_is_short() -> None:
    assert [per_cent(v) for v in (0, 0.125, 1 / 3, 1)] == ["0%", "12.5%", "33.33%", "100%"]


@pytest.mark.parametrize(
    ("start", "end", "steps"),
    [
        (0, 41206, (0, 10000, 20000, 30000, 40000)),
        (1200, 1900, (1200, 1400, 1600, 1800)),
        (0, 1, (0, 0.2, 0.4, 0.6, 0.8, 1.0)),
    ],
)
def test_round_steps(start: float, end: float, steps: tuple[float, ...]) -> None:
    assert round_steps(start, end, 6) == pytest.approx(steps)


def test_a_life_keeps_each_part_on_its_row() -> None:
    strip = draw_life(
        start_cycles=0,
        end_cycles=10000,
        readings=[ReadingMark(2500, "a"), ReadingMark(5000, "b", is_held=True)],
        events=[
            EventMark(1000, "lubricated", EventKind.TASK),
            EventMark(4000, "open", EventKind.FAULT),
            EventMark(1000, "night visit", EventKind.VISIT),
        ],
        spans=[
            span(0, 4000, Ending.FAILURE),
            span(0, 10000, Ending.RUNNING, "Converter"),
            span(4000, 10000, Ending.RUNNING),
        ],
        dates=[DateMark(7500, "2026")],
    )
    assert [(m.x, m.kind) for m in strip.readings] == [("25%", "accepted"), ("50%", "held")]
    assert [m.kind for m in strip.tasks] == ["visit", "task"]
    assert [m.x for m in strip.faults] == ["40%"]
    assert [row.name for row in strip.rows] == ["Coil cable", "Converter"]
    assert [(s.x, s.width, s.end_x, s.ending) for s in strip.rows[0].spans] == [
        ("0%", "40%", "40%", "failure"),
        ("40%", "60%", "100%", "running"),
    ]
    assert strip.rows[1].y > strip.rows[0].y
    assert strip.axis_y > strip.rows[1].y
    assert strip.dates[0].x == "75%"


def test_tick_text_stays_inside_the_strip() -> None:
    ticks = draw_life(start_cycles=0, end_cycles=10000).ticks
    assert ticks[0].anchor == "start"
    assert ticks[-1].anchor == "end"
    assert ticks[-1].label == "10,000"


def test_a_part_that_ends_before_it_was_fitted_is_refused() -> None:
    with pytest.raises(ValueError, match="Coil cable from 500 to 400"):
        draw_life(start_cycles=0, end_cycles=1000, spans=[span(500, 400, Ending.FAILURE)])


def test_estimates_share_one_round_scale() -> None:
    scale = common_scale([7900, 19900, None, 31800, float("inf")])
    assert scale.end == 40000
    assert [mark.value for mark in scale.marks] == [0, 10000, 20000, 30000, 40000]
    bar = draw_interval(lower=10000, estimate=20000, upper=30000, reference=12000, scale=scale)
    assert (bar.band_x, bar.band_width, bar.end_x) == ("25%", "50%", "75%")
    assert (bar.estimate_x, bar.reference_x, bar.is_open_above) == ("50%", "30%", False)


def test_a_scale_that_ends_on_a_round_value_is_not_stretched() -> None:
    assert common_scale([20000]).end == 20000


def test_a_lower_bound_alone_runs_open_to_the_end() -> None:
    bar = draw_interval(lower=10000, scale=common_scale([40000]))
    assert (bar.band_x, bar.end_x, bar.is_open_above) == ("25%", "100%", True)
    assert bar.estimate_x == ""


def test_an_upper_bound_below_the_lower_is_refused() -> None:
    with pytest.raises(ValueError, match="got 300 to 200"):
        draw_interval(lower=300, upper=200, scale=common_scale([400]))


def test_a_scale_of_nothing_is_refused() -> None:
    with pytest.raises(ValueError, match="above 0"):
        common_scale([None, 0])


def test_weeks_come_down_with_the_chance() -> None:
    strip = draw_run_out([RunOutWeek("48", 0.05), RunOutWeek("49", 0.5)], limit=0.05)
    first, second = strip.weeks
    assert (first.middle, second.middle) == ("25%", "75%")
    assert (first.height, second.height) == ("2.0", "20.0")
    assert (first.is_past_limit, second.is_past_limit) == (False, True)
    assert (second.words, strip.limit_words, strip.limit_y) == ("50 %", "5 %", "2.0")


def test_a_chance_beyond_one_is_refused() -> None:
    with pytest.raises(ValueError, match=r"got 1\.01"):
        draw_run_out([RunOutWeek("48", 1.01)], limit=0.05)
