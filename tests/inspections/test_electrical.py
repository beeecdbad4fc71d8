"""Bands of batteries, refusals of impossible electrics, and values that were typed."""

from __future__ import annotations

import math

import pytest

from inspections.electrical import (
    Band,
    allowed_drop,
    battery_at_rest,
    battery_charging,
    battery_running,
    cable_ohms,
    input_amps,
    operating_point,
    supply_factor,
)
from inspections.typed_values import BOUNDS, Typed, check_typed


@pytest.mark.parametrize(
    ("volts", "rest", "running"),
    [(12.6, Band.HOLDS, Band.HOLDS), (12.4, Band.HOLDS, Band.HOLDS), (12.3, Band.NEAR, Band.HOLDS),
     (12.2, Band.NEAR, Band.HOLDS), (12.19, Band.PAST, Band.HOLDS), (11.5, Band.PAST, Band.HOLDS),
     (11.2, Band.PAST, Band.NEAR), (11.0, Band.PAST, Band.NEAR), (10.9, Band.PAST, Band.PAST)],
)  # fmt: skip
def test_battery_bands(volts: float, rest: Band, running: Band) -> None:
    assert battery_at_rest(volts) is rest
    assert battery_running(volts) is running
    assert battery_at_rest(2 * volts, 24.0) is rest
    assert battery_running(2 * volts, 24.0) is running


@pytest.mark.parametrize(
    ("volts", "band"),
    [(14.2, Band.HOLDS), (13.5, Band.HOLDS), (13.0, Band.NEAR), (12.6, Band.PAST),
     (14.8, Band.HOLDS), (14.9, Band.NEAR), (15.3, Band.PAST)],
)  # fmt: skip
def test_charging_band(volts: float, band: Band) -> None:
    assert battery_charging(volts) is band
    assert battery_charging(2 * volts, 24.0) is band


def test_sums_of_decimals_do_not_cross_a_limit() -> None:
    assert battery_at_rest(12.1 + 0.1) is Band.NEAR
    assert allowed_drop(0.1 + 0.2 + 0.7).near_volts == pytest.approx(1.5)


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: cable_ohms(41, 5.0), "A cable gauge is a whole number from 0 to 40, not 41."),
        (lambda: cable_ohms(14, -1.0), "A cable is zero metres long or more, not -1.0."),
        (lambda: cable_ohms(14, math.nan), "A cable is zero metres long or more, not nan."),
        (lambda: input_amps(32, 10, 0.0), "A converter's input is above 0 V, not 0.0."),
        (
            lambda: input_amps(32, 10, 12.0, 1.2),
            "An efficiency lies above 0 and not above 1, not 1.2.",
        ),
        (lambda: supply_factor(0.0), "A supply is above 0 V, not 0.0."),
        (
            lambda: operating_point(12.6, -0.1, 100.0),
            "A supply is above 0 V, its ohms and the watts not below zero, "
            "not 12.6 V, -0.1 ohm, 100.0 W.",
        ),
        (
            lambda: check_typed("gravity", 9.8),
            f"A quantity is one of {', '.join(BOUNDS)}, not gravity.",
        ),
    ],
)
def test_what_cannot_be_is_refused(call, message: str) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(ValueError) as refused:  # noqa: PT011
        call()
    assert str(refused.value) == message


@pytest.mark.parametrize(
    ("quantity", "typed", "verdict", "meant"),
    [
        ("converter_volts", 320.0, Typed.IMPOSSIBLE, 32.0),
        ("converter_volts", 3.2, Typed.DOUBTFUL, 32.0),
        ("converter_volts", 32.1, Typed.OK, None),
        # What broken converters read is taken as it is.
        ("converter_volts", 12.3, Typed.OK, None),
        ("converter_volts", 0.4, Typed.OK, None),
        ("converter_volts", 45.0, Typed.DOUBTFUL, None),
        ("battery_volts", 1.26, Typed.DOUBTFUL, 12.6),
        ("battery_volts", 126.0, Typed.IMPOSSIBLE, 12.6),
        ("battery_volts", 12.6, Typed.OK, None),
        ("battery_volts", 9.0, Typed.DOUBTFUL, None),
        ("battery_volts", -1.0, Typed.IMPOSSIBLE, None),
        ("battery_volts", math.nan, Typed.IMPOSSIBLE, None),
        ("remote_volts", 30.0, Typed.IMPOSSIBLE, 3.0),
        ("newtons", 900.0, Typed.DOUBTFUL, 90.0),
        ("ohms", -1.0, Typed.IMPOSSIBLE, None),
        ("megohms", 1e6, Typed.OK, None),
    ],
)
def test_typed_values(quantity: str, typed: float, verdict: Typed, meant: float | None) -> None:
    check = check_typed(quantity, typed)
    assert (check.verdict, check.suggestion) == (verdict, meant)


def test_typed_battery_values_follow_the_supply() -> None:
    assert check_typed("battery_volts", 25.2, 24.0).verdict is Typed.OK
    assert check_typed("battery_volts", 25.2).verdict is Typed.IMPOSSIBLE
    assert check_typed("battery_volts", 2.52, 24.0).suggestion == 25.2


@pytest.mark.parametrize("quantity", BOUNDS)
def test_bounds_lie_within_each_other(quantity: str) -> None:
    usual, soft, hard = BOUNDS[quantity].usual, BOUNDS[quantity].soft, BOUNDS[quantity].hard
    assert hard[0] <= soft[0] <= usual[0] < usual[1] <= soft[1] <= hard[1]
