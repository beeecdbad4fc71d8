"""Readings are judged as a careful clerk would, and as fast as thousands of doors ask for."""

from __future__ import annotations

import numpy as np
import pytest

from analytics.kernel.causes import (
    Cause,
    CauseShares,
    Density,
    Expected,
    intended_values,
    other_causes_bound,
    rollover_turns,
    weigh_causes,
)
from analytics.kernel.effective_days import Calendar
from analytics.kernel.exposure import CounterSegments, Doors, Readings, Ruling, accepted_series
from analytics.kernel.judgement import DEFAULT_PLAUSIBILITY, Settlement
from analytics.kernel.neighbours import neighbour_values
from analytics.kernel.plausibility import judge
from analytics.kernel.rate_filter import Rate
from tests.analytics.kernel.naive_judge import NaiveJudge, slips
from tests.analytics.kernel.synthetic import (
    CLASS_RATES,
    CLASS_SPREAD,
    FIRST_DAY,
    SLIPS,
    make_readings,
    make_usage,
)

DAY = 20_000.0
DOORS = 16  # the reference takes about a millisecond a density


def prior_of(usage):
    return Rate(np.log(CLASS_RATES)[usage.route], CLASS_SPREAD[usage.route] ** 2)


def one_door(points, *, opening=0.0, begins=DAY, digits=5, basis=1, rate=40.0, rulings=None,
             counters=None, calendar=None):  # fmt: skip
    """Judge the readings ``(days after DAY, value)`` of one door that does about 40 a day."""
    day = DAY + np.array([p[0] for p in points], float)
    ruling = np.zeros(len(points), np.int8) if rulings is None else np.array(rulings, np.int8)
    readings = Readings(
        np.array([0, len(points)]), day, np.array([p[1] for p in points], float), ruling
    )
    doors = Doors(*(np.array([float(x)]) for x in (opening, begins, 10**digits, basis)))
    return judge(
        doors,
        counters or CounterSegments.none(),
        readings,
        calendar or Calendar.plain(1),
        Rate(np.log([rate]), np.array([0.2])),
    )


STEADY = [(20 * k, 800 * k) for k in range(1, 8)]


class TestAgainstTheSlowReference:
    @pytest.mark.parametrize(
        ("seed", "digits", "gap", "slip_rate"),
        [(1, 5, 20.0, 0.05), (2, 6, 8.0, 0.15), (3, 5, 45.0, 0.3), (4, 5, 20.0, 0.5)],
    )
    def test_agrees_reading_by_reading(self, seed, digits, gap, slip_rate):
        usage = make_usage(DOORS, 500, seed)
        made = make_readings(
            usage, seed + 1, digits=digits, gap_days=gap, slip_rate=slip_rate, near_top=0.4
        )
        fast = judge(
            made.doors, CounterSegments.none(), made.readings, usage.calendar, prior_of(usage)
        )
        said = []
        for door in range(DOORS):
            clock = lambda day, door=door: usage.calendar.elapsed(  # noqa: E731
                np.array([door]), np.array([day])
            )[0]
            slow = NaiveJudge(
                opening=made.doors.opening_cycles[door],
                begin=FIRST_DAY,
                modulus=10.0**digits,
                eff_of=clock,
                prior=(prior_of(usage).log_rate[door], prior_of(usage).variance[door]),
                settings=DEFAULT_PLAUSIBILITY,
            )
            for row in range(*made.readings.offsets[door : door + 2]):
                slow.read(made.readings.day[row], made.readings.value[row])
            said += slow.said
        assert fast.held.tolist() == [s.held for s in said]
        np.testing.assert_allclose(fast.cycles, [s.cycles for s in said], rtol=1e-9)
        held = fast.held
        assert held.sum() > 10
        assert slip_rate < 0.3 or (fast.settlement == Settlement.SET_ASIDE).any()
        assert (fast.settlement == Settlement.ACCEPTED_LATER).any()
        assert fast.cause[held].tolist() == [s.cause for s in said if s.held]
        np.testing.assert_allclose(
            fast.suggested_value[held], [s.suggestion for s in said if s.held]
        )

    def test_intended_values_are_those_of_digits_as_text(self):
        for value, modulus in (
            (41_872, 1e5), (0, 1e5), (99_999, 1e5), (100_233, 1e6), (4_187, 1e5), (70, 1e5),
            (44_118, 1e6), (3_000, 1e5),
        ):  # fmt: skip
            found = intended_values(np.array([float(value)]), np.array([modulus]))[0]
            known = sorted(each for kind in slips(value, modulus) for each in kind)
            assert sorted(found[np.isfinite(found)].astype(int)) == known


class TestGoalsOnAMadeFleet:
    """Goals: precision >= .88, recall of harmful slips >= .92, false flags <= 0.6 %."""

    @pytest.mark.parametrize("seed", [7, 17])
    def test_finds_slips_and_leaves_good_readings_alone(self, seed):
        usage = make_usage(800, 900, seed)
        made = make_readings(usage, seed + 1)
        found = judge(
            made.doors, CounterSegments.none(), made.readings, usage.calendar, prior_of(usage),
            neighbours=neighbour_values(made.readings, usage.depot),
        )  # fmt: skip
        kind = np.array(SLIPS)[made.slip]
        error = np.abs(made.readings.value - made.intended)
        spread = 2 * np.sqrt(np.minimum(found.variance, 1)) * np.nan_to_num(found.mean)
        harmful = (made.slip > 2) & (error > np.maximum(100, spread))
        harmful |= np.isin(kind, ["rollover", "exchange"])
        harmful |= (kind == "unchanged") & (np.nan_to_num(found.mean) > 30)
        flagged = found.held | found.estimated | (found.cause == Cause.ROLLOVER)
        wrong = made.slip > 0
        assert wrong.sum() > 1000
        assert (flagged & wrong).sum() / flagged.sum() >= 0.95
        assert flagged[harmful].mean() >= 0.95
        assert flagged[~wrong].mean() <= 0.003
        offered = found.held & np.isfinite(found.suggested_value)
        right = found.suggested_value[offered] == made.intended[offered]
        assert offered.sum() > 80
        assert right.mean() >= 0.93
        truck = harmful & (kind == "wrong_truck")
        assert (found.cause[truck] == Cause.WRONG_TRUCK).mean() >= 0.75

    @pytest.mark.parametrize(
        ("seed", "digits", "gap"), [(37, 5, 23.0), (47, 6, 40.0), (57, 6, 5.0), (67, 5, 90.0)]
    )
    def test_holds_next_to_nothing_of_a_clean_fleet(self, seed, digits, gap):
        usage = make_usage(500, 900, seed, changes_per_year=1.5)
        made = make_readings(usage, seed, slip_rate=0.0, digits=digits, gap_days=gap)
        found = judge(
            made.doors, CounterSegments.none(), made.readings, usage.calendar, prior_of(usage)
        )
        assert found.held.mean() <= 0.006
        good = ~found.held
        np.testing.assert_allclose(
            np.quantile(np.abs(found.cycles[good] - made.truth[good]), 0.999), 0.0, atol=1e-6
        )


class TestSingleDoors:
    def test_counts_cycles_by_the_counters_basis(self):
        found = one_door([(10, 800), (20, 1601)], basis=2)
        assert not found.held.any()
        assert found.cycles.tolist() == [400.0, 800.5]

    def test_no_readings_at_all(self):
        found = one_door([])
        assert found.accepted.tolist() == [0]
        assert found.held_count.tolist() == [0]

    def test_takes_an_undated_first_reading_at_its_word(self):
        found = one_door([(0, 45_000), (20, 45_800)], begins=np.nan)
        assert not found.held.any()
        assert found.cycles.tolist() == [45_000.0, 45_800.0]
        assert found.counted.tolist() == [False, True]

    def test_takes_opening_cycles_of_zero_for_unknown_when_nothing_else_explains_it(self):
        found = one_door([(20, 61_200), (40, 62_000)])
        assert not found.held.any()
        assert found.cycles.tolist() == [61_200.0, 62_000.0]
        assert not found.counted[0]
        assert found.mean[1] == pytest.approx(800, rel=0.01)  # the jump teaches no rate

    def test_sets_a_first_reading_aside_when_the_second_follows_from_the_opening(self):
        found = one_door([(20, 61_211), (40, 1_600), (60, 2_400)])
        assert found.held.tolist() == [True, False, False]
        assert found.settlement[0] == Settlement.SET_ASIDE
        assert found.cycles[1:].tolist() == [1_600.0, 2_400.0]

    def test_a_lower_counter_is_held_never_refused(self):
        found = one_door([*STEADY, (160, 3_911)])
        assert found.held.tolist() == [False] * 7 + [True]
        assert np.isnan(found.cycles[-1])

    def test_a_rollover_adds_the_modulus(self):
        found = one_door([(20, 99_300), (35, 110)], opening=98_500)
        assert found.cause[1] == Cause.ROLLOVER
        assert found.cycles.tolist() == [99_300.0, 100_110.0]

    def test_a_gap_of_years_can_hold_two_rollovers(self):
        points = [(20 * k, 800 * k) for k in range(1, 30)]
        points.append((580 + 6_000, (23_200 + 240_500) % 100_000))
        found = one_door(points)
        assert found.cause[-1] == Cause.ROLLOVER
        assert found.cycles[-1] == 23_200 + 240_500

    def test_the_next_reading_settles_an_exchange_nobody_recorded(self):
        found = one_door([*STEADY, (160, 12), (180, 812), (200, 1_612)])
        assert not found.held.any()
        assert found.cause[7] == Cause.COUNTER_EXCHANGE
        assert found.settlement[7] == Settlement.ACCEPTED_LATER
        assert found.estimated.tolist() == [False] * 7 + [True, False, False]
        assert not found.counted[7]
        assert found.cycles[7] == pytest.approx(6_400, rel=0.02)
        assert found.cycles[9] - found.cycles[7] == 1_600

    def test_a_held_reading_stays_held_when_the_next_fits_without_it(self):
        found = one_door([*STEADY, (160, 4_600), (180, 7_200)])
        assert found.held.tolist() == [False] * 7 + [True, False]
        assert found.settlement[7] == Settlement.BORNE_OUT
        assert found.holds_in_row.tolist() == [0]

    def test_three_in_a_row_ask(self):
        found = one_door([*STEADY, (160, 70_111), (180, 33_333), (200, 91_919)])
        assert found.holds_in_row.tolist() == [3]
        assert found.held_count.tolist() == [3]
        assert found.accepted.tolist() == [7]

    def test_a_steady_new_use_out_of_all_proportion_is_believed_at_the_third_reading(self):
        found = one_door(
            [(20, 30), (40, 60), (60, 95), (80, 5_600), (100, 11_200), (120, 16_700)], rate=1.5
        )
        assert not found.held.any()
        assert found.cycles[-1] == 16_700

    def test_unchanged_only_counts_against_a_door_in_service(self):
        idle = Calendar(
            np.ones((1, 7)), np.zeros(1, np.int64),
            Calendar.plain(1).lay_ups.__class__(
                np.array([0]), np.array([DAY + 140]), np.array([np.nan])
            ),
        )  # fmt: skip
        points = [*STEADY, (180, 5_600)]
        at_work, laid_up = one_door(points), one_door(points, calendar=idle)
        assert at_work.cause[-1] == Cause.UNCHANGED
        assert at_work.held[-1]
        assert not laid_up.held.any()
        assert laid_up.cycles[-1] == 5_600

    def test_the_same_value_twice_on_one_day_is_nothing_unusual(self):
        busy = [(20 * k, 6_000 * k) for k in range(1, 8)]
        assert not one_door([*busy, (140.3, 42_000)], rate=300.0).held.any()
        assert one_door([*busy, (142, 42_000)], rate=300.0).held[-1]

    def test_a_jump_no_door_can_make_is_bridged_at_the_usual_rate(self):
        found = one_door([*STEADY, (141, 60_000), (161, 60_800)])
        assert not found.held.any()
        assert found.estimated[7]
        assert found.cycles[7] == pytest.approx(5_640, abs=30)
        possible = one_door([*STEADY, (141, 5_999), (160, 6_760)])
        assert not possible.estimated.any()

    def test_setting_one_aside_goes_on_from_the_one_before(self):
        points = [*STEADY, (160, 8_300), (170, 6_700), (171, 7_350), (180, 7_200)]
        found = one_door(points)
        assert found.settlement[7] == Settlement.SET_ASIDE
        assert found.held[7:].tolist() == [True, False, True, False]
        assert found.cycles[[8, 10]].tolist() == [6_700.0, 7_200.0]

    def test_setting_one_aside_brings_back_what_it_kept_out(self):
        found = one_door([*STEADY, (160, 6_800), (163, 5_740), (185, 6_700)], digits=7)
        assert found.settlement[7:].tolist() == [
            Settlement.SET_ASIDE, Settlement.ACCEPTED_LATER, Settlement.NONE
        ]  # fmt: skip
        assert found.cycles[8:].tolist() == [5_740.0, 6_700.0]

    def test_a_door_that_hardly_moves_may_show_the_same_twice(self):
        found = one_door([(20, 4), (40, 9), (60, 12), (66, 12), (80, 15)], rate=0.2)
        assert not found.held.any()

    def test_a_persons_ruling_wins(self):
        points = [*STEADY, (160, 3_911), (180, 4_711)]
        accepted = one_door(points, rulings=[0] * 7 + [1, 0])
        assert accepted.cause[7] == Cause.RULED
        assert not accepted.held.any()
        assert accepted.cycles[8] - accepted.cycles[7] == 800
        held = one_door([*STEADY, (160, 6_400), (180, 7_200)], rulings=[0] * 7 + [2, 0])
        assert held.held.tolist() == [False] * 7 + [True, False]
        assert held.cause[7] == Cause.RULED

    def test_what_a_person_accepted_is_not_set_aside(self):
        points = [*STEADY, (160, 9_999), (180, 7_200)]
        assert one_door(points, rulings=[0] * 7 + [1, 0]).held.tolist() == [False] * 8 + [True]

    def test_huge_gap_leaves_a_wide_expectation(self):
        found = one_door([*STEADY, (140 + 1_500, 5_600 + 30_000)], digits=6)
        assert not found.held.any()
        assert found.expected_low[-1] < found.expected_value[-1] < found.expected_high[-1]

    def test_expected_range_holds_the_usual_step(self):
        found = one_door(STEADY)
        assert found.expected_low[-1] < 5_600 < found.expected_high[-1]
        assert found.expected_value[-1] == pytest.approx(5_600, rel=0.05)


class TestExchangedCounters:
    def test_recorded_exchange_keeps_the_cycles_running(self):
        found = one_door(
            [(20, 800), (40, 1_600), (60, 350), (80, 1_150)], counters=_exchange(last=2_050)
        )
        assert not found.held.any()
        assert found.cycles.tolist() == [800.0, 1_600.0, 2_050 + 350.0, 2_050 + 1_150.0]
        assert found.counted.tolist() == [True] * 4

    def test_unknown_last_value_ends_at_the_last_accepted_reading(self):
        found = one_door(
            [(20, 800), (40, 1_600), (60, 350), (80, 1_150)], counters=_exchange(last=-1)
        )
        assert found.cycles.tolist() == [800.0, 1_600.0, 1_950.0, 2_750.0]
        assert found.counted.tolist() == [True, True, False, True]

    def test_a_held_first_reading_of_a_new_counter_takes_the_gap_with_it(self):
        found = one_door(
            [(20, 800), (40, 1_600), (60, 50_000), (80, 50_800)], counters=_exchange(last=-1)
        )
        assert found.settlement[2] == Settlement.ACCEPTED_LATER
        assert found.counted.tolist() == [True, True, False, True]

    def test_a_described_counter_with_another_basis(self):
        new = CounterSegments(
            np.array([0]), np.array([100.0]), np.array([-1.0]), np.array([1e6]), np.array([2.0]),
            np.array([DAY + 40.0]), np.array([np.nan]),
        )  # fmt: skip
        found = one_door([(20, 800), (40.5, 140), (60, 1_700)], counters=new)
        assert found.cycles.tolist() == [800.0, 820.0, 1_600.0]

    @pytest.mark.parametrize(("value", "cycles"), [(2_040, 2_040.0), (12, 2_062.0)])
    def test_reading_on_the_day_of_the_exchange_goes_to_the_nearer_counter(self, value, cycles):
        found = one_door([(20, 800), (40, 1_600), (51.4, value)], counters=_exchange(last=2_050))
        assert not found.held.any()
        assert found.cycles[-1] == cycles


def _exchange(last):
    two = np.array([0, 0])
    return CounterSegments(
        two, np.array([0.0, 0.0]), np.array([float(last), -1.0]), np.full(2, 1e5), np.ones(2),
        DAY + np.array([0.0, 51.0]), np.array([DAY + 51.0, np.nan]),
    )  # fmt: skip


class TestCauses:
    def expected(self, **changes):
        kept = {"base": 41_000.0, "mean": 872.0, "variance": 0.03, "modulus": 1e5,
                "effective_days": 20.0} | changes  # fmt: skip
        return Expected(*(np.array([v]) for v in kept.values()))

    def test_first_screen_never_exceeds_the_full_weighing(self):
        """What passes at first sight must also win the full weighing: checked value by value."""
        value = np.arange(40_000.0, 46_000.0, 7.0)
        rows = np.zeros(len(value), np.int64)
        for variance in (0.03, 0.3, 3.0):
            expected = self.expected(variance=variance).rows(rows)
            density = Density.of(expected)
            weight = 0.959 * density.at(value - expected.base)
            bound = other_causes_bound(expected, density, value, CauseShares(), 0.0)
            passes = weight >= bound
            verdict = weigh_causes(expected, value, np.zeros(len(value)), CauseShares())
            assert passes.sum() > 20
            assert np.all(verdict.chance[passes, Cause.OK] >= 0.5)
            np.testing.assert_allclose(verdict.chance.sum(axis=1), 1.0)
            assert np.all(verdict.chance[:, Cause.OK] >= weight / (weight + bound) - 1e-12)

    def test_density_of_increments_integrates_to_one(self):
        expected = self.expected()
        grid = np.arange(0.0, 60_000.0)
        total = Density.of(expected).at(grid[None, :]).sum()
        assert total == pytest.approx(1.0, abs=2e-3)

    def test_turns(self):
        turns = rollover_turns(
            Expected(
                np.array([99_000.0, 500.0, 500.0]), np.array([900.0, 900.0, 240_000.0]),
                np.full(3, 0.1), np.full(3, 1e5), np.full(3, 20.0),
            ),
            np.array([200.0, 1_400.0, 41_000.0]),
        )  # fmt: skip
        assert turns.tolist() == [1.0, 0.0, 2.0]


def test_wrong_truck_names_the_neighbour():
    days = DAY + np.arange(1.0, 9.0) * 20
    series = [800.0 * np.arange(1, 9) + opening for opening in (0, 30_000, 62_000)]
    value = np.concatenate(series)
    value[7] = series[1][7] - 20
    readings = Readings(np.arange(4) * 8, np.tile(days, 3), value, np.zeros(24, np.int8))
    doors = Doors(np.array([0.0, 30_000, 62_000]), np.full(3, DAY), np.full(3, 1e5), np.ones(3))
    prior = Rate(np.log(np.full(3, 40.0)), np.full(3, 0.2))
    table = neighbour_values(readings, np.zeros(3, np.int64))
    found = judge(
        doors, CounterSegments.none(), readings, Calendar.plain(3), prior, neighbours=table
    )
    assert np.flatnonzero(found.held).tolist() == [7]
    assert found.cause[7] == Cause.WRONG_TRUCK
    assert found.neighbour[7] == 1
    alone = judge(
        Doors(*(x[:1] for x in (doors.opening_cycles, doors.record_from_day, doors.modulus,
                                doors.counts_per_cycle))),
        CounterSegments.none(),
        Readings(np.array([0, 8]), days, value[:8], np.zeros(8, np.int8)),
        Calendar.plain(1), Rate(prior.log_rate[:1], prior.variance[:1]),
        neighbours=table.seen_by(np.array([0]), np.array([0])),
    )  # fmt: skip
    assert alone.cause[7] == Cause.WRONG_TRUCK
    assert alone.probability[7] == pytest.approx(found.probability[7])
    other_depot = neighbour_values(readings, np.array([0, 1, 1]))
    assert other_depot.match(np.array([0]), days[7:], value[7:8]).door.tolist() == [-1]


def test_order_and_company_of_doors_do_not_matter():
    usage = make_usage(60, 400, 5)
    made = make_readings(usage, 6, slip_rate=0.2)
    whole = judge(
        made.doors, CounterSegments.none(), made.readings, usage.calendar, prior_of(usage)
    )
    for door in (0, 17, 59):
        mine = slice(made.readings.offsets[door], made.readings.offsets[door + 1])
        alone = judge(
            Doors(*(x[[door]] for x in (made.doors.opening_cycles, made.doors.record_from_day,
                                        made.doors.modulus, made.doors.counts_per_cycle))),
            CounterSegments.none(),
            Readings(np.array([0, mine.stop - mine.start]), made.readings.day[mine],
                     made.readings.value[mine], made.readings.ruling[mine]),
            Calendar(usage.calendar.weekday_weights, usage.route[[door]],
                     usage.lay_ups.of_doors(np.array([door]))),
            Rate(prior_of(usage).log_rate[[door]], prior_of(usage).variance[[door]]),
        )  # fmt: skip
        np.testing.assert_allclose(alone.cycles, whole.cycles[mine])
        assert alone.cause.tolist() == whole.cause[mine].tolist()


def test_refuses_inputs_that_do_not_match():
    with pytest.raises(ValueError, match="must describe the same doors; got 1, 1, 2 and 1"):
        one_door([(20, 800)], calendar=Calendar.plain(2))


def test_series_and_rulings_share_their_codes():
    assert [int(r) for r in Ruling] == [0, 1, 2]
    found = one_door([*STEADY, (160, 3_911)])
    doors = Doors(*(np.array([x]) for x in (0.0, DAY, 1e5, 1.0)))
    readings = Readings(
        np.array([0, 8]), DAY + 20.0 * np.arange(1, 9), np.arange(8.0), np.zeros(8, np.int8)
    )
    series = accepted_series(doors, readings, found)
    assert series.cycles.tolist() == [0.0, *(800.0 * np.arange(1, 8))]
    assert series.read.tolist() == [False] + [True] * 7
