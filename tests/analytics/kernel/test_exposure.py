"""Lifetime cycles from counters, between readings, and at the ends of the record."""

from __future__ import annotations

import numpy as np
import pytest

from analytics.kernel.counters import counter_of_readings, counter_timeline
from analytics.kernel.effective_days import (
    Calendar,
    LayUps,
    estimate_weekday_weights,
    weekday_counts,
)
from analytics.kernel.exposure import (
    CounterSegments,
    Doors,
    Place,
    Readings,
    Series,
    bracket_cycles,
    cycles_at,
    increments,
    window_end,
)
from tests.analytics.kernel.synthetic import FIRST_DAY, WEEKS, make_usage

MONDAY = 19_723.0  # 2024-01-01


def series(*doors):
    """Make a series from ``[(day, cycles), ...]`` of each door."""
    points = [p for door in doors for p in door]
    sizes = [len(door) for door in doors]
    return Series(
        np.concatenate(([0], np.cumsum(sizes))).astype(np.int64),
        np.array([p[0] for p in points], float),
        np.array([p[1] for p in points], float),
        np.ones(len(points), bool),
        np.ones(len(points), bool),
    )


class TestCyclesBetweenReadings:
    three = series([(10, 100), (20, 300)], [], [(5, 50)])

    def test_interpolates_and_says_where_it_did_not(self):
        door = np.array([0, 0, 0, 0, 1, 2, 2])
        day = np.array([15.0, 20.0, 9.0, 21.0, 15.0, 5.0, 6.0])
        found = cycles_at(self.three, door, day)
        np.testing.assert_array_equal(found.cycles, [200, 300, 100, 300, np.nan, 50, 50])
        assert [Place(p).name for p in found.place] == [
            "INTERPOLATED", "INTERPOLATED", "BEFORE_FIRST", "AFTER_LAST", "NO_POINT",
            "INTERPOLATED", "AFTER_LAST",
        ]  # fmt: skip

    def test_agrees_with_numpy_interp_door_by_door(self):
        rng = np.random.default_rng(4)
        doors = [
            sorted(zip(rng.uniform(0, 900, k), np.sort(rng.uniform(0, 1e5, k)), strict=True))
            for k in rng.integers(1, 30, 50)
        ]
        doors = [list(zip([p[0] for p in d], sorted(p[1] for p in d), strict=True)) for d in doors]
        made = series(*doors)
        door, day = rng.integers(0, 50, 3_000), rng.uniform(-50, 950, 3_000)
        slow = [
            np.interp(t, [p[0] for p in doors[d]], [p[1] for p in doors[d]])
            for d, t in zip(door, day, strict=True)
        ]
        np.testing.assert_allclose(cycles_at(made, door, day).cycles, slow, rtol=1e-12)

    def test_bracket_gives_the_readings_on_both_sides(self):
        found = bracket_cycles(
            self.three, np.array([0, 0, 0, 0, 1, 2]), np.array([15.0, 20.0, 9.0, 25.0, 1.0, 1.0])
        )
        np.testing.assert_array_equal(found.lower, [100, 300, np.nan, 300, np.nan, np.nan])
        np.testing.assert_array_equal(found.upper, [300, 300, 100, np.nan, np.nan, 50])

    def test_no_door_has_any_point(self):
        empty = series([], [])
        assert np.isnan(cycles_at(empty, np.array([1]), np.array([3.0])).cycles).all()
        assert np.isnan(bracket_cycles(empty, np.array([1]), np.array([3.0])).upper).all()
        assert len(increments(empty).door) == 0

    def test_window_is_widened_to_hold_every_event(self):
        end = window_end(
            np.array([0.0, 40.0, 0.0]), self.three, np.array([0, 1, 2, 2]),
            np.array([250.0, 90.0, 70.0, np.nan]),
        )  # fmt: skip
        assert end.tolist() == [300.0, 90.0, 70.0]

    def test_some_doors_keep_their_points(self):
        some = self.three.of_doors(np.array([0, 2]))
        assert some.offsets.tolist() == [0, 2, 3]
        assert some.cycles.tolist() == [100.0, 300.0, 50.0]


class TestCounters:
    def doors(self, opening=50_000.0, begins=100.0, basis=2.0):
        return Doors(*(np.array([v]) for v in (opening, begins, 1e5, basis)))

    def readings(self, *points):
        return Readings(
            np.array([0, len(points)]), np.array([p[0] for p in points], float),
            np.array([p[1] for p in points], float), np.zeros(len(points), np.int8),
        )  # fmt: skip

    def row(self, fitted):
        return CounterSegments(
            np.array([0]), *(np.array([v]) for v in (7.0, -1.0, 1e6, 1.0, fitted, np.nan))
        )

    def test_undescribed_counter_shows_opening_cycles_within_its_digits(self):
        found = counter_timeline(self.doors(60_000.0), CounterSegments.none(), self.readings())
        assert found.first_value.tolist() == [20_000.0]
        assert found.implicit.tolist() == [True]

    @pytest.mark.parametrize(("fitted", "counters"), [(100.0, 1), (90.0, 1), (101.0, 2)])
    def test_a_row_from_the_beginning_replaces_it(self, fitted, counters):
        found = counter_timeline(self.doors(), self.row(fitted), self.readings((120, 9)))
        assert len(found.first_value) == counters
        assert found.first_value[-1] == 7.0

    def test_undated_record_begins_with_its_first_reading(self):
        rows = self.row(130.0)
        late = counter_timeline(self.doors(begins=np.nan), rows, self.readings((120, 9)))
        early = counter_timeline(self.doors(begins=np.nan), rows, self.readings((140, 9)))
        assert len(late.first_value) == 2
        assert len(early.first_value) == 1

    def test_readings_of_one_day_never_go_back_to_the_old_counter(self):
        two = CounterSegments(
            np.array([0, 0]), np.array([0.0, 0.0]), np.array([900.0, -1.0]), np.full(2, 1e5),
            np.ones(2), np.array([100.0, 150.0]), np.array([150.0, np.nan]),
        )  # fmt: skip
        readings = self.readings((120, 500), (150.2, 890), (150.5, 3), (150.6, 880), (151, 9))
        timeline = counter_timeline(self.doors(0.0), two, readings)
        assert counter_of_readings(timeline, readings).tolist() == [0, 0, 1, 1, 1]

    def test_refuses_moments_that_do_not_ascend(self):
        with pytest.raises(ValueError, match=r"row 1 \(10.0\) does not follow 10.0"):
            self.readings((10, 1), (10, 2))
        Readings(np.array([0, 1, 2]), np.array([5.0, 4.0]), np.zeros(2), np.zeros(2, np.int8))

    def test_refuses_lengths_that_disagree(self):
        with pytest.raises(ValueError, match="Offsets end at 2, but there are 1 moments"):
            Readings(np.array([0, 2]), np.array([5.0]), np.zeros(1), np.zeros(1, np.int8))


class TestEffectiveDays:
    week = np.array([[1.4, 1.4, 1.4, 1.4, 1.4, 0.0, 0.0]])

    def calendar(self, *lay_ups):
        rows = np.array(lay_ups, float).reshape(-1, 3)
        laid = LayUps(rows[:, 0].astype(np.int64), rows[:, 1], rows[:, 2])
        return Calendar(self.week, np.zeros(2, np.int64), laid)

    def passed(self, calendar, start, end, door=0):
        return float(
            np.diff(calendar.elapsed(np.array([door, door]), MONDAY + np.array([start, end])))[0]
        )

    def test_a_week_is_seven_whatever_its_pattern(self):
        assert self.passed(self.calendar(), 0, 7) == pytest.approx(7)
        assert self.passed(self.calendar(), 0.5, 1) == pytest.approx(0.7)
        assert self.passed(self.calendar(), 5, 7) == 0

    def test_lay_ups_count_as_nothing_and_overlaps_once(self):
        calendar = self.calendar(
            (1, MONDAY + 1, MONDAY + 3), (1, MONDAY + 2, MONDAY + 4), (1, MONDAY + 14, np.nan)
        )
        assert self.passed(calendar, 0, 7, door=1) == pytest.approx(7 - 3 * 1.4)
        assert self.passed(calendar, 2.5, 3.5, door=1) == pytest.approx(0)
        assert self.passed(calendar, 0, 400, door=1) == pytest.approx(14 - 3 * 1.4)
        assert self.passed(calendar, 0, 7, door=0) == pytest.approx(7)

    def test_agrees_with_adding_up_small_pieces(self):
        rng = np.random.default_rng(2)
        laid = LayUps(rng.integers(0, 20, 60), MONDAY + rng.uniform(0, 300, 60), np.zeros(60))
        laid = LayUps(laid.door, laid.from_day, laid.from_day + rng.uniform(0, 40, 60))
        calendar = Calendar(WEEKS, rng.integers(0, 4, 20), laid)
        step = 1 / 64
        for door in range(20):
            start, end = np.sort(rng.integers(0, 300 * 64, 2)) * step + MONDAY
            middle = np.arange(start, end, step) + step / 2
            weight = WEEKS / WEEKS.mean(axis=1, keepdims=True)
            day = weight[calendar.class_of_door[door], (np.floor(middle) - MONDAY).astype(int) % 7]
            for each in np.flatnonzero(laid.door == door):
                day[(middle > laid.from_day[each]) & (middle < laid.until_day[each])] = 0
            fast = np.diff(calendar.elapsed(np.array([door, door]), np.array([start, end])))[0]
            assert fast == pytest.approx(day.sum() * step, abs=0.15)

    def test_day_after_undoes_elapsed(self):
        rng = np.random.default_rng(3)
        calendar = Calendar(WEEKS, np.arange(4), LayUps.none())
        door, start = rng.integers(0, 4, 500), MONDAY + rng.uniform(0, 30, 500)
        wanted = rng.uniform(-20, 300, 500)
        end = calendar.day_after(door, start, wanted)
        passed = calendar.elapsed(door, end) - calendar.elapsed(door, start)
        np.testing.assert_allclose(passed, wanted, atol=1e-9)

    def test_day_after_stops_at_the_first_such_moment(self):
        friday_evening = self.calendar().day_after(
            np.array([0, 0]), np.array([MONDAY, MONDAY]), np.array([7.0, np.nan])
        )
        assert friday_evening[0] == pytest.approx(MONDAY + 5)
        assert np.isnan(friday_evening[1])

    def test_weights_are_learned_from_irregular_readings(self):
        usage = make_usage(400, 360, 9, season=0.0, lay_up_share=0.0, changes_per_year=0.0)
        rng = np.random.default_rng(1)
        start = FIRST_DAY + np.floor(rng.uniform(0, 300, 16_000))
        end = start + rng.integers(1, 12, 16_000)
        door = rng.integers(0, 400, 16_000)
        mean = usage.total[door, -1] / 360
        cycles = (usage.at(door, end) - usage.at(door, start)) / mean
        found = estimate_weekday_weights(usage.route[door], start, end, cycles, classes=5)
        truth = WEEKS / WEEKS.mean(axis=1, keepdims=True)
        np.testing.assert_allclose(found[:4], truth, atol=0.17)
        np.testing.assert_allclose(found.mean(axis=1), 1.0)
        assert found[4, 6] == pytest.approx(0.2)  # no interval of that class: the default stands

    def test_weekday_counts_add_up(self):
        counts = weekday_counts(np.array([MONDAY + 0.5]), np.array([MONDAY + 8.25]))
        np.testing.assert_allclose(counts, [[1.5, 1.25, 1, 1, 1, 1, 1]])

    def test_refuses_weights_that_are_no_weights(self):
        with pytest.raises(ValueError, match="not all zero"):
            Calendar(np.zeros((1, 7)), np.zeros(1, np.int64), LayUps.none())
