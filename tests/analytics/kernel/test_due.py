"""Due dates: which limit governs, how sure it is, and how it stands today."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
import pytest

from analytics.kernel.calibration import UNCALIBRATED
from analytics.kernel.due import DueState, GovernedBy, Tasks, due
from analytics.kernel.effective_days import Calendar
from analytics.kernel.exposure import Series
from analytics.kernel.rate_filter import Rate
from analytics.kernel.rate_history import RateHistory
from analytics.kernel.usage import usage_at
from tests.analytics.kernel.synthetic import FIRST_DAY
from tests.analytics.kernel.test_usage import followed

NAN = np.nan


def at_rate(per_day, *, last_day=0.0, cycles=0.0, as_of=0.0, variance=0.02):
    """Usage of one door with a known rate, last read on ``last_day``."""
    series = Series(
        np.array([0, 1]),
        np.array([last_day]),
        np.array([cycles]),
        np.zeros(1, bool),
        np.ones(1, bool),
    )
    history = RateHistory(
        np.array([math.log(per_day)]), np.array([variance]), np.array([9]),
        Calendar.plain(1).elapsed(np.array([0]), np.array([last_day])),
    )  # fmt: skip
    prior = Rate(history.log_rate, history.variance)
    return usage_at(as_of, series, history, Calendar.plain(1), prior=prior)


def task(cycles=0.0, day=0.0, interval_cycles=NAN, interval_days=NAN, condition=NAN):
    return Tasks(
        np.array([0]),
        *(np.array([v]) for v in (cycles, day, interval_cycles, interval_days, condition)),
    )


def ask(tasks, usage, as_of=0.0, **more):
    return due(as_of, tasks, usage, Calendar.plain(len(usage.log_rate)), **more)


class TestWhichLimitGoverns:
    def test_cycles_before_days(self):
        found = ask(task(interval_cycles=1_000, interval_days=90), at_rate(40.0))
        assert found.due_day[0] == pytest.approx(25)
        assert found.governed_by[0] == GovernedBy.CYCLES

    def test_days_alone(self):
        found = ask(task(interval_days=30), at_rate(40.0))
        assert found.due_day[0] == 30
        assert found.governed_by[0] == GovernedBy.DAYS
        assert np.isnan(found.due_cycles[0])
        assert np.isnan(found.due_day_early[0])
        assert not found.beyond_horizon[0]

    def test_a_finding_comes_first(self):
        found = ask(task(interval_days=30, condition=-2.0), at_rate(40.0))
        assert found.governed_by[0] == GovernedBy.CONDITION
        assert found.state[0] == DueState.CONDITION
        assert found.probability_within[0] == 1.0
        assert found.due_day[0] == -2.0

    def test_nothing_known(self):
        found = ask(task(cycles=NAN, interval_cycles=1_000), at_rate(40.0))
        assert found.state[0] == DueState.UNKNOWN
        assert found.governed_by[0] == GovernedBy.NONE
        assert np.isnan(found.due_day[0])
        assert np.isnan(found.probability_within[0])

    def test_refuses_an_interval_of_nothing(self):
        with pytest.raises(ValueError, match="interval in cycles must be above 0, got 0"):
            ask(task(interval_cycles=0.0), at_rate(40.0))


class TestStates:
    @pytest.mark.parametrize(
        ("as_of", "state"),
        [(80, "LATER"), (81, "SOON"), (89.9, "SOON"), (90, "DUE"), (99, "DUE"), (100, "LATE")],
    )
    def test_words_by_days(self, as_of, state):
        found = ask(task(interval_days=90), at_rate(40.0, as_of=float(as_of)), as_of=float(as_of))
        assert DueState(found.state[0]).name == state

    def test_falling_due_later_today_is_due(self):
        found = ask(task(day=0.3, interval_days=90), at_rate(40.0, as_of=90.0), as_of=90.0)
        assert found.share_used[0] < 1
        assert found.state[0] == DueState.DUE

    def test_cycles_count_as_carried_forward(self):
        usage = at_rate(40.0, last_day=0.0, cycles=4_000, as_of=20.0)
        found = ask(task(interval_cycles=5_000), usage, as_of=20.0)
        assert found.cycles_used[0] == pytest.approx(4_800)
        assert found.state[0] == DueState.SOON
        assert found.due_day[0] == pytest.approx(25)

    def test_passed_at_the_last_reading(self):
        found = ask(task(interval_cycles=5_000), at_rate(40.0, cycles=5_600, as_of=0.0))
        assert found.state[0] == DueState.LATE
        assert found.due_day[0] == pytest.approx(-15)
        assert found.due_day_early[0] == found.due_day_late[0] == pytest.approx(-15)
        assert found.probability_within[0] == 1.0

    def test_hardly_used_door_lies_beyond_the_horizon(self):
        found = ask(task(interval_cycles=5_000), at_rate(0.5))
        assert found.beyond_horizon[0]
        assert found.due_day_late[0] == 420
        assert found.probability_within[0] < 0.01


class TestIntervals:
    def test_ends_are_where_the_probability_says(self):
        """The 80 % ends, put back as horizons, must give 10 % and 90 %."""
        usage = at_rate(30.0, last_day=-12.0, as_of=0.0)
        tasks = task(day=-12.0, interval_cycles=2_500)
        found = ask(tasks, usage)
        early = ask(tasks, usage, within_days=float(found.due_day_early[0]))
        late = ask(tasks, usage, within_days=float(found.due_day_late[0]))
        assert early.probability_within[0] == pytest.approx(0.1, abs=0.005)
        assert late.probability_within[0] == pytest.approx(0.9, abs=0.005)
        assert found.due_day_early[0] < found.due_day[0] < found.due_day_late[0]

    @pytest.mark.parametrize("cycles", [3.0, 20.0, 150.0, 2_500.0, 9_000.0])
    @pytest.mark.parametrize("variance", [0.005, 0.3])
    def test_solution_holds_for_few_and_many_cycles(self, cycles, variance):
        usage = at_rate(30.0, variance=variance)
        found = ask(task(interval_cycles=cycles), usage)
        for day, error in ((found.due_day_early[0], 0.9), (found.due_day_late[0], 0.1)):
            if day < 420:
                days = np.array([day])
                spread = UNCALIBRATED.spread(np.array([variance]), days, 30 * days)[0]
                assert math.log(cycles) == pytest.approx(
                    math.log(30 * day) + UNCALIBRATED.error_at(error) * spread, abs=1e-4
                )

    def test_probability_never_falls_with_the_horizon(self):
        usage = at_rate(30.0)
        chance = [
            ask(task(interval_cycles=2_500, interval_days=150), usage, within_days=float(d))
            .probability_within[0]
            for d in range(0, 200, 5)
        ]  # fmt: skip
        assert np.all(np.diff(chance) >= 0)
        assert chance[0] < 1e-6
        assert chance[-1] == 1.0


@dataclass(frozen=True)
class Run:
    """How the due dates of one made fleet turned out."""

    cover: float
    error_ratio: float
    calibrated: bool
    chance: np.ndarray
    came: np.ndarray


def test_the_window_around_due_is_the_tasks_own():
    """Used up by 0.95 and 1.15: a window of 10 % either way, then one of 3 and 20 %."""
    standing = at_rate(10.0, cycles=1_450.0)
    for done, usual, own in (
        (500.0, DueState.SOON, DueState.LATER),
        (300.0, DueState.LATE, DueState.DUE),
    ):
        asked = task(cycles=done, interval_cycles=1_000)
        assert ask(asked, standing).state[0] == usual
        narrow = replace(asked, window_before=np.array([0.03]), window_after=np.array([0.2]))
        assert ask(narrow, standing).state[0] == own


class TestGoalsOnMadeFleets:
    """Goals: the 80 % interval holds 75 to 86 %; mean error <= 0.85 of the last two readings'."""

    def run(self, seed, **usage_args):
        fleet = followed(seed, doors=1_200, **usage_args)
        usage, series, found, calibration = (
            fleet.usage, fleet.series, fleet.found, fleet.calibration
        )  # fmt: skip
        as_of, doors = FIRST_DAY + 760, np.arange(1_200)
        rng = np.random.default_rng(seed)
        left = found.cycles_per_day * rng.uniform(10, 150, 1_200)
        tasks = Tasks(
            doors, found.last_cycles, np.full(1_200, as_of),
            np.maximum(found.cycles_now - found.last_cycles + left, 1.0),
            np.full(1_200, NAN), np.full(1_200, NAN),
        )  # fmt: skip
        answer = due(as_of, tasks, found, fleet.calendar, calibration=calibration, within_days=60.0)
        # True cycles on the judged scale: equal at the last point, so that an estimated exchange
        # long ago does not count against today's forecast.
        shift = found.last_cycles - usage.at(doors, found.last_day)
        true = usage.total + shift[:, None]
        reached = FIRST_DAY + (true < answer.due_cycles[:, None]).sum(axis=1)
        seen = reached < FIRST_DAY + 1_000
        sure = seen | (answer.due_day_late < FIRST_DAY + 999)
        inside = (reached >= answer.due_day_early) & (reached <= answer.due_day_late + 1)
        last = series.offsets[1:] - 1
        enough = seen & (np.diff(series.offsets) > 2)
        step = series.cycles[last] - series.cycles[last - 1]
        rate = step / np.maximum(series.day[last] - series.day[last - 1], 0.5)
        naive = series.day[last] + (answer.due_cycles - found.last_cycles) / np.maximum(rate, 0.05)
        naive = np.minimum(naive, as_of + 420)
        error = np.abs(reached - answer.due_day)[enough].mean()
        naive_error = np.abs(reached - naive)[enough].mean()
        within = (answer.probability_within, reached <= as_of + 60)
        return Run(inside[sure].mean(), error / naive_error, calibration.calibrated, *within)

    def test_interval_is_honest_and_the_date_beats_the_last_two_readings(self):
        runs = [self.run(seed) for seed in (1, 2, 3)]
        cover = np.mean([r.cover for r in runs])
        assert 0.75 <= cover <= 0.86
        assert all(0.72 <= r.cover <= 0.88 for r in runs)
        assert max(r.error_ratio for r in runs) <= 0.85
        assert all(r.calibrated for r in runs)
        chance = np.concatenate([r.chance for r in runs])
        came = np.concatenate([r.came for r in runs])
        for part in np.array_split(np.argsort(chance), 5):
            assert chance[part].mean() == pytest.approx(came[part].mean(), abs=0.12)

    @pytest.mark.parametrize("changes", [0.0, 1.5])
    def test_also_with_no_and_with_many_route_changes(self, changes):
        found = self.run(14, changes_per_year=changes)
        assert 0.72 <= found.cover <= 0.90
        assert found.error_ratio <= 0.85
