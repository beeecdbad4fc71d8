"""Numbers and dates as people read them."""

import datetime as dt

import pytest
from django.utils import timezone, translation

from fleetdoors.templatetags import units

TUESDAY = dt.date(2026, 12, 1)


@pytest.mark.parametrize(
    ("value", "decimals", "text"),
    [
        (4870, 0, "4,870"),
        (0, 0, "0"),
        (-0.2, 0, "0"),
        (1234567.891, 2, "1,234,567.89"),
        (None, 0, "–"),
        (float("inf"), 0, "–"),
        (float("nan"), 1, "–"),
    ],
)
def test_number(value: float | None, decimals: int, text: str) -> None:
    assert units.number(value, decimals) == text


def test_numbers_follow_the_language_in_force() -> None:
    with translation.override("de"):
        assert units.number(4870.5, 1) == "4.870,5"


@pytest.mark.parametrize(
    ("value", "text"), [(1, "1 cycle"), (4870, "4,870 cycles"), (0, "0 cycles"), (None, "–")]
)
def test_cycles(value: int | None, text: str) -> None:
    assert units.cycles(value) == text


@pytest.mark.parametrize(("value", "text"), [(38.24, "38.2 a day"), (240.4, "240 a day")])
def test_per_day(value: float, text: str) -> None:
    assert units.per_day(value) == text


@pytest.mark.parametrize(
    ("share", "text"),
    [
        (0, "0 %"),
        (0.001, "under 1 %"),
        (0.834, "83 %"),
        (0.999, "over 99 %"),
        (1, "100 %"),
        (1.4, "140 %"),
        (None, "–"),
    ],
)
def test_per_cent_never_says_none_or_all_of_what_is_not(share: float | None, text: str) -> None:
    assert units.per_cent(share) == text


@pytest.mark.parametrize(
    ("chance", "text"),
    [(0.8, "8 times in 10"), (0.1, "1 time in 10"), (0.95, "95 times in 100"), (None, "–")],
)
def test_times_in_ten(chance: float | None, text: str) -> None:
    assert units.times_in_ten(chance) == text


def test_a_chance_beyond_one_is_refused() -> None:
    with pytest.raises(ValueError, match=r"between 0 and 1, got 1\.2"):
        units.times_in_ten(1.2)


def test_used_of() -> None:
    assert units.used_of(4870, 5000) == "4,870 of 5,000 cycles"


@pytest.mark.parametrize(
    ("low", "high", "text"),
    [
        (2100, 3400, "2,100 to 3,400"),
        (2100, None, "at least 2,100"),
        (2100, float("inf"), "at least 2,100"),
        (None, 3400, "–"),
    ],
)
def test_between(low: float | None, high: float | None, text: str) -> None:
    assert units.between(low, high) == text


def test_days() -> None:
    assert units.day(TUESDAY) == "Tue 1 Dec 2026"
    assert units.short_day(TUESDAY) == "Tue 1 Dec"
    assert units.day(None) == "–"


def test_a_moment_is_told_in_the_zone_in_force() -> None:
    late_in_utc = dt.datetime(2026, 11, 30, 23, 30, tzinfo=dt.UTC)
    with timezone.override("Europe/Berlin"):
        assert units.moment(late_in_utc) == "Tue 1 Dec 2026, 00:30"
        assert units.day(late_in_utc) == "Tue 1 Dec 2026"
        assert units.days_away(late_in_utc, TUESDAY) == "today"


@pytest.mark.parametrize(
    ("first", "last", "text"),
    [
        (dt.date(2026, 11, 28), dt.date(2026, 12, 8), "28 Nov to 8 Dec 2026"),
        (dt.date(2026, 12, 28), dt.date(2027, 1, 8), "28 Dec 2026 to 8 Jan 2027"),
        (TUESDAY, TUESDAY, "1 Dec 2026"),
        (None, TUESDAY, "–"),
    ],
)
def test_day_range(first: dt.date | None, last: dt.date, text: str) -> None:
    assert units.day_range(first, last) == text


@pytest.mark.parametrize(
    ("days", "text"),
    [
        (6, "in 6 days"),
        (1, "in 1 day"),
        (0, "today"),
        (-1, "1 day ago"),
        (-1200, "1,200 days ago"),
    ],
)
def test_days_away(days: int, text: str) -> None:
    assert units.days_away(TUESDAY + dt.timedelta(days=days), TUESDAY) == text


@pytest.mark.parametrize(
    ("minutes", "text"), [(95, "1 h 35 min"), (120, "2 h"), (42, "42 min"), (None, "–")]
)
def test_duration(minutes: int | None, text: str) -> None:
    assert units.duration(minutes) == text
