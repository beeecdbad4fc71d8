"""Cable, supply and converter figures against copper tables and worked figures of the trade."""

from __future__ import annotations

import math

import pytest

from inspections.electrical import (
    Band,
    ConverterBand,
    allowed_drop,
    battery_at_rest,
    cable_drop_volts,
    cable_ohms,
    charge_quarters,
    classify_converter,
    input_amps,
    judge_drop,
    operating_point,
)

METRES_PER_THOUSAND_FEET = 304.8
# Annealed copper at 20 degrees, ohms per 1,000 ft of one conductor. The table of NBS Handbook 100
# as reprinted by a cable tester maker's calculator page and a unit-conversion page (both read in
# 2026-11; the first lists ohms per 100 ft, the second ohms per km). Gauge 10 is recalled.
OHMS_PER_THOUSAND_FEET = {10: 0.9989, 12: 1.588, 14: 2.525, 16: 4.016, 18: 6.385, 20: 10.15}
OHMS_PER_KM = {10: 3.28, 12: 5.21, 14: 8.28, 16: 13.17, 18: 20.94, 20: 33.29, 24: 84.20}
# Loop ohms of 5, 6.5 and 8 m, and volts lost at 20 degrees: worked by hand from the same
# resistivity with the areas 3.309, 2.082 and 1.309 mm2.
LOOP_MILLIOHMS = {12: (52, 68, 83), 14: (83, 108, 133), 16: (132, 171, 211)}
DROPS = [
    (12, 5.0, 10, 0.52), (12, 5.0, 15, 0.78), (12, 5.0, 20, 1.04), (12, 6.5, 10, 0.68),
    (12, 6.5, 15, 1.02), (12, 6.5, 20, 1.35), (12, 8.0, 10, 0.83), (12, 8.0, 15, 1.25),
    (12, 8.0, 20, 1.67), (14, 5.0, 10, 0.83), (14, 5.0, 15, 1.24), (14, 5.0, 20, 1.66),
    (14, 6.5, 10, 1.08), (14, 6.5, 20, 2.15), (14, 8.0, 10, 1.32), (14, 8.0, 15, 1.99),
    (14, 8.0, 20, 2.65), (16, 5.0, 10, 1.32), (16, 5.0, 15, 1.98), (16, 5.0, 20, 2.63),
    (16, 6.5, 10, 1.71), (16, 6.5, 15, 2.57), (16, 6.5, 20, 3.42), (16, 8.0, 10, 2.11),
    (16, 8.0, 15, 3.16), (16, 8.0, 20, 4.21),
]  # fmt: skip


@pytest.mark.parametrize(("awg", "ohms"), OHMS_PER_THOUSAND_FEET.items())
def test_one_conductor_as_in_the_table_per_thousand_feet(awg: int, ohms: float) -> None:
    assert cable_ohms(awg, METRES_PER_THOUSAND_FEET) / 2 == pytest.approx(ohms, rel=6e-4)


@pytest.mark.parametrize(("awg", "ohms"), OHMS_PER_KM.items())
def test_one_conductor_as_in_the_table_per_kilometre(awg: int, ohms: float) -> None:
    assert cable_ohms(awg, 1000.0) / 2 == pytest.approx(ohms, rel=6e-4, abs=0.006)


@pytest.mark.parametrize(("awg", "milliohms"), LOOP_MILLIOHMS.items())
def test_loop_of_a_door_cable(awg: int, milliohms: tuple[int, ...]) -> None:
    computed = [round(cable_ohms(awg, metres) * 1000) for metres in (5.0, 6.5, 8.0)]
    assert computed == pytest.approx(milliohms, abs=1)


@pytest.mark.parametrize(("awg", "metres", "amps", "volts"), DROPS)
def test_volts_lost_at_20_degrees(awg: int, metres: float, amps: float, volts: float) -> None:
    assert cable_drop_volts(amps, awg, metres) == pytest.approx(volts, abs=0.006)


def test_drop_warm_and_cold() -> None:
    # 0.00393 per kelvin: 40 K make 15.7 per cent.
    assert cable_drop_volts(15, 14, 8.0, 60.0) == pytest.approx(2.30, abs=0.005)
    assert cable_ohms(14, 8.0, 60.0) / cable_ohms(14, 8.0) == pytest.approx(1.157, abs=5e-4)
    assert cable_ohms(14, 8.0, -30.0) < cable_ohms(14, 8.0)


def test_allowed_drop_of_the_worked_cable() -> None:
    limits = allowed_drop(cable_drop_volts(15, 14, 8.0))
    assert limits.near_volts == pytest.approx(2.98, abs=0.005)
    assert limits.past_volts == pytest.approx(3.98, abs=0.01)


@pytest.mark.parametrize(
    ("computed", "near", "past"),
    [(None, 2.0, 3.0), (0.0, 1.0, 1.5), (0.6, 1.0, 1.5), (1.0, 1.5, 2.0), (2.0, 3.0, 4.0),
     (3.0, 4.5, 5.0), (4.0, 5.0, 5.0)],
)  # fmt: skip
def test_allowed_drop_has_a_floor_and_a_ceiling(
    computed: float | None, near: float, past: float
) -> None:
    limits = allowed_drop(computed)
    assert (limits.near_volts, limits.past_volts) == pytest.approx((near, past))
    assert judge_drop(near, limits) is Band.HOLDS
    assert judge_drop(past + 0.01, limits) is Band.PAST
    if near < past:
        assert judge_drop(near + 0.01, limits) is Band.NEAR


@pytest.mark.parametrize(
    ("amps_out", "volts_in", "amps_in"),
    [(5, 13.8, 12.9), (5, 12.6, 14.1), (10, 12.0, 29.6), (10, 11.0, 32.3), (15, 12.0, 44.4),
     (20, 13.8, 51.5), (20, 11.0, 64.6)],
)  # fmt: skip
def test_input_current_by_power_balance(amps_out: float, volts_in: float, amps_in: float) -> None:
    # Power in equals power out over 0.90: worked by hand.
    assert input_amps(32.0, amps_out, volts_in) == pytest.approx(amps_in, abs=0.06)


@pytest.mark.parametrize(
    ("ohms", "volts"), [(0.012, 12.25), (0.025, 11.85), (0.040, 11.34), (0.060, 10.58)]
)
def test_supply_under_constant_power(ohms: float, volts: float) -> None:
    # Larger root of V(12.6 - V)/R = 356 W, worked by hand.
    point = operating_point(12.6, ohms, 356.0)
    assert point.volts == pytest.approx(volts, abs=0.006)
    assert point.amps == pytest.approx(356.0 / volts, rel=1e-3)
    # Kirchhoff: what the battery loses inside is what is missing outside.
    assert point.volts + point.amps * ohms == pytest.approx(12.6)


def test_supply_that_collapses_says_so() -> None:
    point = operating_point(12.6, 0.060, 711.0)
    assert point.collapses
    assert point.volts is None
    assert point.amps is None
    assert point.most_watts == pytest.approx(12.6**2 / 0.24)
    assert not operating_point(12.6, 0.060, point.most_watts - 1e-6).collapses


@pytest.mark.parametrize(
    ("volts", "band"),
    [(32.1, ConverterBand.HOLDS), (30.4, ConverterBand.NEAR), (12.3, ConverterBand.NOT_BOOSTING),
     (0.4, ConverterBand.DEAD), (24.0, ConverterBand.OUT_OF_REGULATION),
     (34.6, ConverterBand.OUT_OF_REGULATION), (31.0, ConverterBand.HOLDS),
     (33.0, ConverterBand.HOLDS), (34.0, ConverterBand.NEAR), (2.0, ConverterBand.DEAD)],
)  # fmt: skip
def test_converter_bands_at_12_volts(volts: float, band: ConverterBand) -> None:
    assert classify_converter(volts, 12.6) is band


@pytest.mark.parametrize(
    ("output", "measured_input", "band"),
    [(13.4, 14.2, ConverterBand.NOT_BOOSTING), (13.4, 12.2, ConverterBand.OUT_OF_REGULATION),
     (24.4, 25.0, ConverterBand.NOT_BOOSTING), (27.6, 28.4, ConverterBand.NOT_BOOSTING),
     (24.4, 28.4, ConverterBand.OUT_OF_REGULATION), (30.0, 29.4, ConverterBand.NEAR)],
)  # fmt: skip
def test_converter_is_compared_with_its_own_input(
    output: float, measured_input: float, band: ConverterBand
) -> None:
    assert classify_converter(output, measured_input) is band


def test_converter_band_of_the_door_model() -> None:
    assert classify_converter(36.0, 12.6, low_volts=35, high_volts=37) is ConverterBand.HOLDS
    assert classify_converter(32.0, 12.6, low_volts=35, high_volts=37) is (
        ConverterBand.OUT_OF_REGULATION
    )


@pytest.mark.parametrize(
    ("volts", "quarters"), [(12.6, 4), (12.4, 3), (12.2, 2), (12.0, 1), (11.7, 0), (13.0, 4)]
)
def test_charge_of_a_rested_battery(volts: float, quarters: int) -> None:
    # Open-circuit table of lead-acid workshop manuals, in steps of 0.2 V; doubled for 24 V.
    assert charge_quarters(volts) == quarters
    assert charge_quarters(2 * volts, 24.0) == quarters


def test_battery_limits_double_at_24_volts() -> None:
    for volts in (12.1, 12.2, 12.3, 12.4, 12.6):
        assert battery_at_rest(volts) is battery_at_rest(2 * volts, 24.0)


def test_no_resistance_no_limit() -> None:
    point = operating_point(12.6, 0.0, 500.0)
    assert point.volts == 12.6
    assert math.isinf(point.most_watts)
