"""Limits of measurements, against the copper tables and the trade's worked values."""

import pytest

from inspections.limits import Circumstances, DoorFigures, Limits, judge, limits_for
from inspections.quantities import QUANTITIES

TWELVE = DoorFigures(code="M", cable_awg=14, cable_metres=8.0)
TWENTY_FOUR = DoorFigures(code="M", supply_volts=24.0)
NOTHING = Circumstances()


def judged(quantity: str, value: float, door: DoorFigures = TWELVE, **found: object) -> str:
    return judge(value, limits_for(quantity, door, Circumstances(**found)))  # type: ignore[arg-type]


def test_every_quantity_has_limits_or_says_that_it_has_none() -> None:
    for code in QUANTITIES:
        assert isinstance(limits_for(code, TWELVE, NOTHING), Limits)
    assert {code for code in QUANTITIES if not limits_for(code, TWELVE, NOTHING).are_known} == {
        "motor_end",
        "motor_amps",
        "travel_open_seconds",
        "travel_close_seconds",
    }


@pytest.mark.parametrize(
    ("quantity", "value", "word"),
    [
        # Bands of a 12 V battery at rest and running: common practice, no source.
        ("battery_rest", 12.4, "holds"),
        ("battery_rest", 12.3, "near"),
        ("battery_rest", 12.19, "past"),
        ("battery_running", 11.5, "holds"),
        ("battery_running", 11.0, "near"),
        ("battery_running", 10.9, "past"),
        # 31 to 33 V holds, a volt to either side is near.
        ("converter_no_load", 32.1, "holds"),
        ("converter_no_load", 30.4, "near"),
        ("converter_no_load", 34.0, "near"),
        ("converter_no_load", 34.6, "past"),
        ("converter_no_load", 12.3, "past"),
        ("converter_running", 30.0, "holds"),
        ("converter_running", 29.5, "near"),
        ("converter_running", 28.9, "past"),
        ("fuse", 0.4, "holds"),
        ("fuse", 5.0, "past"),
        ("balance_half", -50.0, "holds"),
        ("balance_half", -51.0, "near"),
        ("balance_half", 151.0, "past"),
        ("drag", 100.0, "holds"),
        ("drag", 151.0, "past"),
        ("sensor_offset", 25.0, "holds"),
        ("sensor_offset", 31.0, "near"),
        ("sensor_offset", 36.0, "past"),
        ("spring", 0.0, "holds"),
        ("spring", 1.0, "near"),
        ("spring", 2.0, "past"),
    ],
)  # fmt: skip
def test_bands(quantity: str, value: float, word: str) -> None:
    assert judged(quantity, value) == word


def test_a_24_volt_truck_has_twice_the_supply_and_the_same_drive() -> None:
    assert judged("battery_rest", 24.8, TWENTY_FOUR) == "holds"
    assert judged("battery_rest", 24.3, TWENTY_FOUR) == "past"
    assert judged("converter_no_load", 32.0, TWENTY_FOUR) == "holds"


def test_a_battery_with_the_engine_on_is_judged_by_what_charging_gives() -> None:
    assert judged("battery_rest", 12.4, engine_running=True) == "past"
    assert judged("battery_rest", 14.2, engine_running=True) == "holds"
    assert judged("battery_rest", 15.4, engine_running=True) == "past"


def test_the_cable_may_lose_one_and_a_half_times_what_copper_loses() -> None:
    # AWG 14, 8 m, 15 A, 20 °C: 1.99 V; near above 2.98 V, past above 3.97 V (NBS Handbook 100,
    # through the trade's worked vector 1).
    at = {"values": {"board_output": 32.0}, "amps": 15.0, "celsius": 20.0}
    limits = limits_for("motor_end", TWELVE, Circumstances(**at))  # type: ignore[arg-type]
    assert 32.0 - limits.near_low == pytest.approx(2.98, abs=0.01)  # type: ignore[operator]
    assert 32.0 - limits.limit_low == pytest.approx(3.97, abs=0.01)  # type: ignore[operator]
    assert "NBS" in limits.source
    warm = limits_for("motor_end", TWELVE, Circumstances(**{**at, "celsius": 60.0}))  # type: ignore[arg-type]
    assert 32.0 - warm.near_low == pytest.approx(2.30 * 1.5, abs=0.01)  # type: ignore[operator]


def test_without_a_current_two_and_three_volts_are_the_rule() -> None:
    values = {"values": {"board_output": 32.0}}
    assert judged("motor_end", 30.0, **values) == "holds"
    assert judged("motor_end", 29.5, **values) == "near"
    assert judged("motor_end", 28.9, **values) == "past"


def test_the_doors_own_cable_when_new_warns_before_the_table() -> None:
    # New: 1.0 V at 10 A, 0.1 ohm. At 15 A: 1.5 V; watch 1.95 V, act 2.4 V, both before the table.
    found = Circumstances(
        values={"board_output": 32.0},
        baselines={"board_output": 32.0, "motor_end": 31.0},
        amps=15.0,
        baseline_amps=10.0,
    )
    limits = limits_for("motor_end", TWELVE, found)
    assert limits.limit_low == pytest.approx(32.0 - 2.4)
    assert limits.near_low == pytest.approx(32.0 - 1.95)
    assert "when new" in limits.source


def test_the_table_governs_where_it_trips_first() -> None:
    found = Circumstances(
        values={"board_output": 32.0},
        baselines={"board_output": 32.0, "motor_end": 28.0},
        amps=15.0,
        baseline_amps=10.0,
    )
    assert "NBS" in limits_for("motor_end", TWELVE, found).source


def test_travel_and_current_are_compared_with_the_door_when_new() -> None:
    new = {"baselines": {"travel_open_seconds": 10.0, "motor_amps": 10.0}}
    assert judged("travel_open_seconds", 11.4, **new) == "holds"
    assert judged("travel_open_seconds", 12.9, **new) == "near"
    assert judged("travel_open_seconds", 13.1, **new) == "past"
    assert judged("motor_amps", 16.1, **new) == "past"
    assert judged("motor_amps", 16.1) == "no_limit"


def test_the_board_is_compared_with_the_converter_in_the_same_run() -> None:
    assert judged("board_output", 30.1, values={"converter_running": 31.0}) == "holds"
    assert judged("board_output", 29.9, values={"converter_running": 31.0}) == "past"
