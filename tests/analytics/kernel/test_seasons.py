"""Months: what a day counts in each, learned from two years of readings and believed by half."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
import pytest

from analytics.kernel.effective_days import Calendar, LayUps
from analytics.kernel.exposure import Series
from analytics.kernel.seasons import estimate_month_factors

FIRST = float((date(2023, 3, 1) - date(1970, 1, 1)).days)
WEEK = np.array([1.3, 1.3, 1.3, 1.2, 1.2, 0.5, 0.2])
SEASON = 1 + 0.1 * np.cos(2 * np.pi * (np.arange(12) + 0.5 - 11.5) / 12)


def calendar(months: np.ndarray | None, doors: int = 3, lay_ups: LayUps | None = None) -> Calendar:
    factors = None if months is None else months[None, :]
    laid = lay_ups or LayUps.none()
    return Calendar(WEEK[None, :], np.zeros(doors, np.int64), laid, factors)


def day_by_day(start: int, days: int, months: np.ndarray) -> float:
    """The plain sum over days, with the standard library's calendar."""
    weights = WEEK * 7 / WEEK.sum()
    dates = [date(1970, 1, 1) + timedelta(days=start + k) for k in range(days)]
    return float(sum(weights[day.weekday()] * months[day.month - 1] for day in dates))


@pytest.mark.parametrize(("start", "days"), [(19_400, 1), (19_417, 45), (19_000, 900)])
def test_effective_days_are_the_sum_over_days(start: int, days: int) -> None:
    found = calendar(SEASON)
    ends = np.array([start, start + days], float)
    counted = np.diff(found.elapsed(np.zeros(2, np.int64), ends))[0]
    assert counted == pytest.approx(day_by_day(start, days, SEASON), abs=1e-6)


def test_days_out_of_use_count_nothing_in_any_month() -> None:
    laid = LayUps(np.array([0]), np.array([19_410.0]), np.array([19_440.0]))
    found = calendar(SEASON, lay_ups=laid)
    ends = np.array([19_400.0, 19_460.0])
    worked = np.diff(found.elapsed(np.zeros(2, np.int64), ends))[0]
    idle = day_by_day(19_410, 30, SEASON)
    assert worked == pytest.approx(day_by_day(19_400, 60, SEASON) - idle, abs=1e-6)


def test_the_day_after_so_many_effective_days_is_the_inverse() -> None:
    found = calendar(SEASON)
    door = np.arange(3) % 1
    start = np.array([19_400.25, 19_500.0, 19_700.5])
    ahead = np.array([3.7, 88.0, 400.0])
    end = found.day_after(door, start, ahead)
    gone = found.without_lay_ups(door, end) - found.without_lay_ups(door, start)
    assert gone == pytest.approx(ahead, abs=1e-6)
    assert np.isnan(found.day_after(door[:1], start[:1], np.array([np.nan])))[0]


def test_a_year_ahead_is_a_year_and_a_busy_month_counts_for_more() -> None:
    found = calendar(SEASON)
    january = float((date(2025, 1, 1) - date(1970, 1, 1)).days)
    days = np.array([0.0, 31.0, 365.0])
    ahead = found.season_ahead(january, days)
    assert ahead.shape == (1, 3)
    assert ahead[0] == pytest.approx([0.0, 31 * SEASON[0], 365.0], abs=0.7)
    assert calendar(None).season_ahead(january, days)[0].tolist() == days.tolist()


def test_factors_of_one_change_nothing() -> None:
    door, day = np.zeros(4, np.int64), np.array([18_000.0, 19_000.5, 19_400.0, 20_000.25])
    plain, even = calendar(None), calendar(np.ones(12))
    assert plain.elapsed(door, day).tolist() == even.elapsed(door, day).tolist()


@pytest.mark.parametrize("wrong", [0.0, -1.0, np.nan])
def test_a_month_without_work_is_refused(wrong: float) -> None:
    with pytest.raises(ValueError, match="Month factors must be above 0"):
        calendar(np.array([wrong] + [1.0] * 11))


def read_fleet(
    seed: int, *, doors: int, days: int, months: np.ndarray, jump: float = 1.0
) -> Series:
    """Doors read about every ten days; counts scatter three times as much as chance."""
    rng = np.random.default_rng(seed)
    dates = [date(1970, 1, 1) + timedelta(days=FIRST + k) for k in range(days)]
    daily = np.array([months[day.month - 1] * WEEK[day.weekday()] for day in dates])
    daily[int(days * 0.75) :] *= jump
    rates = np.exp(rng.normal(3.4, 0.5, doors))
    mean = rates[:, None] * daily / WEEK.mean()
    ran = np.cumsum(rng.poisson(rng.gamma(mean / 2 + 1e-9, 2.0)), axis=1)
    read = [np.unique(rng.integers(0, days, days // 10)) for _ in range(doors)]
    offsets = np.concatenate(([0], np.cumsum([len(rows) for rows in read])))
    cycles = np.concatenate([ran[k, rows] for k, rows in enumerate(read)]).astype(float)
    every = np.ones(offsets[-1], bool)
    return Series(offsets, FIRST + 1 + np.concatenate(read), cycles, every, every)


def learned(series: Series) -> tuple[np.ndarray, float]:
    doors = len(series.offsets) - 1
    found = estimate_month_factors(
        series, calendar(None, doors), np.zeros(doors, np.int64), classes=1
    )
    return found.factor[0], float(found.weight[0])


def test_a_season_of_ten_per_cent_is_seen_and_believed_by_half() -> None:
    factor, weight = learned(read_fleet(1, doors=120, days=1_095, months=SEASON))
    assert weight == pytest.approx(0.5)
    raw = 1 + (factor - 1) / weight
    assert raw == pytest.approx(SEASON, abs=0.03)
    assert np.corrcoef(raw, SEASON)[0, 1] > 0.97


def test_fewer_doors_are_believed_less() -> None:
    """n = years x doors / 50: three years of 25 doors weigh 1.5, against 6."""
    _, weight = learned(read_fleet(2, doors=25, days=1_095, months=SEASON))
    assert weight == pytest.approx(1.5 / 7.5, abs=0.01)


def test_where_no_month_differs_next_to_nothing_is_learned() -> None:
    factor, _ = learned(read_fleet(3, doors=120, days=1_095, months=np.ones(12)))
    assert factor == pytest.approx(np.ones(12), abs=0.012)


def test_a_fleet_that_gets_busier_for_good_is_hardly_taken_for_a_season() -> None:
    """Use rises by 40 % after three quarters of the record."""
    factor, _ = learned(read_fleet(4, doors=120, days=1_095, months=np.ones(12), jump=1.4))
    assert factor == pytest.approx(np.ones(12), abs=0.06)


@pytest.mark.parametrize(("doors", "days"), [(120, 700), (7, 1_095)])
def test_nothing_is_learned_from_less_than_two_years_or_eight_doors(doors: int, days: int) -> None:
    factor, weight = learned(read_fleet(5, doors=doors, days=days, months=SEASON))
    assert factor.tolist() == [1.0] * 12
    assert weight == 0.0
