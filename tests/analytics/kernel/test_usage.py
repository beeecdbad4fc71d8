"""Rates follow each door's own readings, lean on similar doors, and know how wrong they are."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import pytest

from analytics.kernel.calibration import (
    UNCALIBRATED,
    Calibration,
    calibrate,
    past_forecasts,
)
from analytics.kernel.class_priors import (
    DEFAULT_LOG_RATE,
    DoorPriors,
    PriorLevel,
    door_log_rates,
    estimate_class_priors,
    grouped_median,
)
from analytics.kernel.effective_days import Calendar, LayUps
from analytics.kernel.exposure import CounterSegments, Doors, Readings, Series, accepted_series
from analytics.kernel.plausibility import judge
from analytics.kernel.rate_filter import FilterSettings, Rate
from analytics.kernel.rate_history import (
    USAGE_FILTER,
    RateHistory,
    estimate_dispersion,
    filter_rates,
)
from analytics.kernel.usage import Usage as UsageNow
from analytics.kernel.usage import UsageBasis, usage_at
from tests.analytics.kernel.synthetic import (
    CLASS_RATES,
    CLASS_SPREAD,
    FIRST_DAY,
    Usage,
    make_readings,
    make_usage,
)


@dataclass(frozen=True)
class Followed:
    """A made fleet and everything learned from its readings."""

    usage: Usage
    calendar: Calendar
    priors: DoorPriors
    series: Series
    history: RateHistory
    calibration: Calibration
    found: UsageNow


def readings_before(readings, day):
    """Return the readings known at a moment."""
    keep = readings.day < day
    sizes = np.bincount(readings.door()[keep], minlength=len(readings.offsets) - 1)
    return Readings(
        np.concatenate(([0], np.cumsum(sizes))),
        readings.day[keep], readings.value[keep], readings.ruling[keep],
    )  # fmt: skip


def followed(seed, *, doors=600, as_of=FIRST_DAY + 760, calibrated=True, **usage_args):
    """Run the whole chain on a made fleet up to a moment."""
    usage = make_usage(doors, 1_000, seed, **usage_args)
    made = make_readings(usage, seed + 1)
    readings = readings_before(made.readings, as_of)
    calendar = usage.calendar
    rates = door_log_rates(readings, made.doors, CounterSegments.none(), calendar)
    priors = estimate_class_priors(
        rates, usage.route, usage.depot, route_kinds=4, depots=int(usage.depot.max()) + 1
    ).for_doors(usage.route, usage.depot)
    judgement = judge(made.doors, CounterSegments.none(), readings, calendar, priors.rate)
    series = accepted_series(made.doors, readings, judgement)
    history = filter_rates(series, calendar, priors.rate)
    calibration = calibrate(series, history, as_of, calendar) if calibrated else UNCALIBRATED
    found = usage_at(as_of, series, history, calendar, prior=priors.rate, calibration=calibration)
    return Followed(usage, calendar, priors, series, history, calibration, found)


def plain_series(*points, read=None):
    days = np.array([p[0] for p in points], float)
    return Series(
        np.array([0, len(points)]), days, np.array([p[1] for p in points], float),
        np.arange(len(points)) > 0, np.ones(len(points), bool) if read is None else np.array(read),
    )  # fmt: skip


PRIOR = Rate(np.array([math.log(30.0)]), np.array([0.25]))


class TestFilter:
    def test_agrees_with_one_door_at_a_time(self):
        made = followed(3, doors=60)
        calendar, priors, series, history = made.calendar, made.priors, made.series, made.history
        settings = USAGE_FILTER
        for door in range(60):
            m, v = priors.rate.log_rate[door], priors.rate.variance[door]
            x, variance, seen = m, v, None
            for row in range(series.offsets[door], series.offsets[door + 1]):
                eff = calendar.elapsed(np.array([door]), series.day[[row]])[0]
                gap = series.day[row] - seen[0] if seen else 0.0
                keep = 0.5 ** (gap / settings.half_life_days)
                xp, pp = m + keep * (x - m), keep**2 * variance + (1 - keep**2) * v
                waited = eff - seen[1] if seen else 0.0
                fresh = seen is None or not series.counted[row]
                if not fresh and waited >= 0.5:
                    seen_rate = math.log((max(series.cycles[row] - seen[2], 0) + 0.5) / waited)
                    noise = settings.dispersion / max(math.exp(xp) * waited, 0.5) + settings.noise
                    gain = pp / (pp + noise)
                    xp, pp = xp + gain * (seen_rate - xp), (1 - gain) * pp
                if fresh or waited >= 0.5:
                    x, variance, seen = xp, pp, (series.day[row], eff, series.cycles[row])
                assert history.log_rate[row] == pytest.approx(xp, abs=1e-9)
                assert history.variance[row] == pytest.approx(pp, abs=1e-9)

    def test_steady_door_is_learned(self):
        series = plain_series(*((20 * k, 1_600 * k) for k in range(20)))
        history = filter_rates(series, Calendar.plain(1), PRIOR)
        assert math.exp(history.log_rate[-1]) == pytest.approx(80, rel=0.06)
        assert history.variance[-1] < 0.05
        assert history.steps[-1] == 19

    def test_long_silence_forgets(self):
        near = plain_series((0, 0), (20, 1_600), (40, 3_200))
        far = plain_series((0, 0), (20, 1_600), (40, 3_200), (5_000, 3_200))
        gap = Series(
            far.offsets, far.day, far.cycles, np.array([False, True, True, False]), far.read
        )
        known = filter_rates(near, Calendar.plain(1), PRIOR)
        lost = filter_rates(gap, Calendar.plain(1), PRIOR)
        assert known.log_rate[-1] > math.log(50)
        assert lost.log_rate[-1] == pytest.approx(PRIOR.log_rate[0], abs=1e-4)
        assert lost.variance[-1] == pytest.approx(0.25, abs=1e-4)

    def test_zero_usage_and_short_gaps_stay_finite(self):
        series = plain_series((0, 0), (0.1, 5), (0.2, 5), (30, 5), (60, 5), (90, 5))
        history = filter_rates(series, Calendar.plain(1), PRIOR)
        assert np.isfinite(history.log_rate).all()
        assert history.steps.tolist() == [0, 0, 0, 1, 2, 3]
        assert math.exp(history.log_rate[-1]) < 5


class TestPriors:
    def test_grouped_median_agrees_with_numpy(self):
        rng = np.random.default_rng(0)
        group, value = rng.integers(0, 40, 700), rng.normal(3, 2, 700)
        found = grouped_median(group, value, 42)
        for each in range(40):
            assert found[each] == pytest.approx(np.median(value[group == each]), abs=1e-6)
        assert np.isnan(found[40:]).all()

    def test_truth_is_recovered_from_raw_readings(self):
        made = followed(11, doors=1_000)
        usage, priors = made.usage, made.priors
        for route in range(4):
            at = np.flatnonzero(usage.route == route)[0]
            # A door that changes route keeps its median between two draws: the spread shrinks.
            assert priors.rate.log_rate[at] == pytest.approx(math.log(CLASS_RATES[route]), abs=0.12)
            assert math.sqrt(priors.rate.variance[at]) == pytest.approx(
                CLASS_SPREAD[route], abs=0.12
            )

    def test_falls_back_from_route_to_depot_to_fleet_to_default(self):
        rate = np.log(np.array([40.0] * 8 + [10.0] * 8 + [10.0] * 2))
        route = np.array([0] * 8 + [1] * 2 + [-1] * 8)
        depot = np.array([0] * 16 + [1, -1])
        classes = estimate_class_priors(rate, route, depot, route_kinds=3, depots=2)
        found = classes.for_doors(np.array([0, 1, 2, -1]), np.array([0, 0, 1, -1]))
        assert [PriorLevel(p).name for p in found.level] == [
            "ROUTE_KIND",
            "DEPOT",
            "FLEET",
            "FLEET",
        ]
        assert found.rate.log_rate[0] == pytest.approx(math.log(40))
        few = estimate_class_priors(rate[:3], route[:3], depot[:3], route_kinds=3, depots=2)
        default = few.for_doors(np.array([0]), np.array([0]))
        assert default.level[0] == PriorLevel.DEFAULT
        assert DEFAULT_LOG_RATE < default.rate.log_rate[0] < math.log(40)

    def test_no_door_at_all_gives_the_default(self):
        nothing = estimate_class_priors(
            np.array([np.nan]), np.array([0]), np.array([0]), route_kinds=1, depots=1
        ).for_doors(np.array([0]), np.array([0]))
        assert nothing.rate.log_rate[0] == pytest.approx(DEFAULT_LOG_RATE)
        assert np.isfinite(nothing.rate.variance[0])

    def test_one_reading_and_a_dated_beginning_give_a_rate(self):
        doors = Doors(*(np.array([v]) for v in (400.0, 0.0, 1e5, 2.0)))
        one = Readings(
            np.array([0, 1]), np.array([10.0]), np.array([1_200.0]), np.zeros(1, np.int8)
        )
        found = door_log_rates(one, doors, CounterSegments.none(), Calendar.plain(1))
        assert math.exp(found[0]) == pytest.approx(20, rel=0.01)

    def test_slips_hardly_move_a_doors_median(self):
        doors = Doors(*(np.array([v]) for v in (0.0, 0.0, 1e5, 2.0)))
        value = 800.0 * np.arange(1, 12)
        value[4] = 91_111
        readings = Readings(
            np.array([0, 11]), 20.0 * np.arange(1, 12), value, np.zeros(11, np.int8)
        )
        found = door_log_rates(readings, doors, CounterSegments.none(), Calendar.plain(1))
        assert math.exp(found[0]) == pytest.approx(20, rel=0.01)


class TestUsageNow:
    def at(self, series, as_of, calendar=None):
        calendar = calendar or Calendar.plain(1)
        return usage_at(as_of, series, filter_rates(series, calendar, PRIOR), calendar, prior=PRIOR)

    def test_carries_forward_to_the_moment(self):
        found = self.at(plain_series((0, 0), (20, 600), (40, 1_200)), 50.0)
        assert found.cycles_now[0] == pytest.approx(1_500, rel=0.01)
        assert found.last_read_day[0] == 40
        assert found.lower[0] < found.cycles_per_day[0] < found.upper[0]
        assert found.basis[0] == UsageBasis.OWN_READINGS

    def test_stands_still_while_laid_up(self):
        idle = Calendar(
            np.ones((1, 7)), np.zeros(1, np.int64),
            LayUps(np.array([0]), np.array([40.0]), np.array([np.inf])),
        )  # fmt: skip
        found = self.at(plain_series((0, 0), (20, 600), (40, 1_200)), 50.0, idle)
        assert found.cycles_now[0] == 1_200

    def test_says_what_it_rests_on(self):
        begun = plain_series((0, 500), read=[False])
        assert self.at(begun, 10.0).basis[0] == UsageBasis.SIMILAR_DOORS
        assert self.at(begun, 10.0).cycles_now[0] == pytest.approx(800)
        assert np.isnan(self.at(begun, 10.0).last_read_day[0])
        assert self.at(plain_series((0, 0), (20, 600)), 140.1).basis[0] == UsageBasis.STALE
        nothing = self.at(plain_series(), 10.0)
        assert nothing.basis[0] == UsageBasis.NONE
        assert np.isnan(nothing.cycles_now[0])
        assert nothing.cycles_per_day[0] == pytest.approx(30)

    def test_refuses_what_was_not_known_then(self):
        with pytest.raises(ValueError, match=r"asked for, 30.0; one is at 40.0"):
            self.at(plain_series((0, 0), (40, 600)), 30.0)

    def test_each_door_may_have_its_own_moment(self):
        two = Series(
            np.array([0, 1, 2]),
            np.array([0.0, 0.0]),
            np.zeros(2),
            np.zeros(2, bool),
            np.ones(2, bool),
        )
        prior = Rate(np.log(np.array([30.0, 30.0])), np.full(2, 0.25))
        calendar = Calendar.plain(2)
        found = usage_at(
            np.array([10.0, 20.0]), two, filter_rates(two, calendar, prior), calendar, prior=prior
        )
        np.testing.assert_allclose(found.cycles_now, [300.0, 600.0])


class TestDispersion:
    def test_daily_scatter_is_found_and_slips_do_not_move_it(self):
        """Counts of a day have three times the variance of chance."""
        rng = np.random.default_rng(5)
        doors, days = 200, 60
        rates = np.exp(rng.normal(3.4, 0.4, doors))
        daily = rng.poisson(rng.gamma(np.tile(rates, (days, 1)).T / 2.0, 2.0))
        cycles = np.cumsum(daily, axis=1).astype(float)
        day = np.tile(FIRST_DAY + np.arange(days, dtype=float), doors)
        every = np.ones(doors * days, bool)
        counted = np.tile(np.arange(days) > 0, doors)
        prior = Rate(np.full(doors, 3.4), np.full(doors, 0.16))

        def found(shown):
            series = Series(np.arange(doors + 1) * days, day, shown.ravel(), counted, every)
            settings = FilterSettings(250.0, 1e-6, 4.0, np.inf)
            history = filter_rates(series, Calendar.plain(doors), prior, settings)
            return estimate_dispersion(series, history, settings)

        assert found(cycles) == pytest.approx(3.0, rel=0.1)
        slipped = cycles.copy()
        slipped[::20, 40:] += 900
        assert found(slipped) == pytest.approx(3.0, rel=0.1)

    def test_few_short_steps_leave_what_is_usual(self):
        made = followed(5, doors=4)
        assert estimate_dispersion(made.series, made.history) == USAGE_FILTER.dispersion


class TestCalibration:
    def test_few_past_forecasts_leave_the_default_and_say_so(self):
        made = followed(5, doors=4)
        assert made.calibration is UNCALIBRATED
        assert not made.calibration.calibrated

    def test_looks_at_nothing_after_the_origin(self):
        made = followed(6, doors=200)
        past = past_forecasts(made.series, made.history, FIRST_DAY + 760, made.calendar)
        assert len(past.actual) > 200
        assert past.effective_days.max() < 260
        # Were the rate at the target used instead of that at the origin, errors would be tiny.
        assert np.mean(np.abs(past.log_error)) > 0.05

    def test_quantiles_and_their_inverse(self):
        made = Calibration(1.0, 0.0, 0.0, np.linspace(-2, 2, 199), calibrated=True, forecasts=1)
        assert made.error_at(0.5) == pytest.approx(0.0)
        assert made.chance_below(np.array([made.error_at(0.9)]))[0] == pytest.approx(0.9)
        assert made.chance_below(np.array([-9.0, 9.0])).tolist() == [0.0, 1.0]

    def test_rate_interval_covers_what_the_next_month_brings(self):
        """80 % interval, seeded fleets; a season of +-10 % is left out of the model on purpose."""
        inside = []
        for seed in (1, 2, 3):
            made = followed(seed)
            usage, found = made.usage, made.found
            doors = np.arange(600)
            start = FIRST_DAY + 760
            actual = usage.at(doors, np.full(600, start + 28)) - usage.at(
                doors, np.full(600, start)
            )
            worked = usage.calendar.elapsed(doors, np.full(600, start + 28)) - (
                usage.calendar.elapsed(doors, np.full(600, start))
            )
            usable = worked > 14
            rate = actual[usable] / worked[usable]
            inside.append(np.mean((rate >= found.lower[usable]) & (rate <= found.upper[usable])))
        assert 0.70 <= np.mean(inside) <= 0.88
