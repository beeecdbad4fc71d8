"""In what condition a door is: what was measured, against its limits, for each person."""

from __future__ import annotations

import re
from datetime import datetime, timedelta

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from analytics.kernel.cable_trend import CableState
from analytics.reports.condition_page import ConditionPage
from fleetdoors.models import Depot, DoorUnit, Role
from inspections.models import InspectionKind, Judgement
from inspections.services.inspecting import InspectionFacts, record_inspection
from tests.factories import (
    NOW,
    component,
    make_depot,
    make_door,
    make_fitment,
    make_loose_door,
    make_readings,
)
from tests.pages.conftest import SignIn
from tests.truck_factories import make_inspection, make_measurement

pytestmark = [
    pytest.mark.django_db,
    pytest.mark.usefixtures("stopped_clock", "recompute_requests"),
]
STEP = timedelta(days=21)
FIRST_AT = NOW - timedelta(days=178)


def address(serial: str = "D-17") -> str:
    return reverse("door-condition", args=[serial])


def body(client: Client, serial: str = "D-17") -> str:
    answer = client.get(address(serial))
    assert answer.status_code == 200
    return answer.content.decode()


def page_of(client: Client, serial: str = "D-17") -> ConditionPage:
    page = client.get(address(serial)).context["page"]
    assert isinstance(page, ConditionPage)
    return page


@pytest.fixture
def north() -> Depot:
    return make_depot(code="NORTH")


@pytest.fixture
def door(north: Depot) -> DoorUnit:
    """A door that runs 50 cycles a day and was read each week."""
    made = make_door(serial="D-17", depot=north, record_from=(NOW - timedelta(days=180)).date())
    make_readings(door=made, values=range(100, 100 + 26 * 350, 350), first_at=FIRST_AT)
    return made


def inspect(
    door: DoorUnit,
    begun_at: datetime,
    kind: str = InspectionKind.ROUTINE,
    amps: float | None = 10.0,
    **values: float,
) -> None:
    record_inspection(
        door=door,
        facts=InspectionFacts(
            begun_at=begun_at, inspector="Kim", kind=kind, amps=amps, celsius=20.0
        ),
        values=values,
        entered_at=begun_at,
    )


def measure_cable(door: DoorUnit, milliohms: list[float], first_at: datetime = FIRST_AT) -> None:
    """At 10 A and 20 °C: so many hundredths of a volt are lost between board and motor."""
    for number, milliohm in enumerate(milliohms):
        inspect(
            door,
            first_at + number * STEP,
            board_output=32.0,
            motor_end=round(32.0 - milliohm / 100, 3),
        )


# Who reads it


@pytest.mark.parametrize("role", list(Role))
def test_every_role_reads_it_and_who_may_inspect(
    sign_in: SignIn, door: DoorUnit, role: Role
) -> None:
    inspection = f'href="{reverse("inspection-new", args=["D-17"])}"'
    may = role != Role.BUYER
    empty = body(sign_in(role))
    assert "Nothing measured yet" in empty
    assert (inspection in empty) == may
    inspect(door, NOW - STEP, battery_rest=12.6)
    filled = body(sign_in(role))
    assert "Nothing measured yet" not in filled
    assert (inspection in filled) == may


def test_a_door_of_another_depot_is_not_found(sign_in: SignIn, door: DoorUnit) -> None:
    south = make_depot(code="SOUTH")
    assert sign_in(Role.TECHNICIAN, [south]).get(address()).status_code == 404
    assert (
        sign_in(Role.TECHNICIAN, [door.mountings.get().truck.depot]).get(address()).status_code
        == 200
    )


def test_the_door_leads_to_its_condition(sign_in: SignIn, door: DoorUnit) -> None:
    page = sign_in().get(reverse("door-detail", args=["D-17"])).content.decode()
    assert f'href="{address()}"' in page


@pytest.mark.parametrize("serial", ["A/12", "D 17 / ~x", "condition", "<i>&'\""])
def test_an_odd_serial_has_its_page(sign_in: SignIn, serial: str) -> None:
    make_door(serial=serial)
    assert "<i>&" not in body(sign_in(), serial)


# Nothing to show, or next to nothing


def test_the_empty_page_says_which_inspection_to_begin_with(
    sign_in: SignIn, door: DoorUnit
) -> None:
    page = body(sign_in())
    assert "electrical set of measurements" in page
    assert "put into service" in page
    assert "data-chart" not in page
    assert "charts.js" not in page


def test_a_door_that_was_never_read_shows_its_numbers_without_a_picture(sign_in: SignIn) -> None:
    make_loose_door(serial="NEW", record_from=None)
    unread = DoorUnit.objects.get(serial="NEW")
    inspect(unread, NOW - STEP, battery_rest=12.6)
    page = body(sign_in(), "NEW")
    assert "No cycles are known" in page
    assert "12.6 V" in page
    assert "data-chart" not in page


def test_a_door_whose_record_begins_tomorrow_has_a_page(sign_in: SignIn) -> None:
    make_loose_door(serial="NEXT", record_from=(NOW + timedelta(days=30)).date())
    assert "Nothing measured yet" in body(sign_in(), "NEXT")


# Each quantity


@pytest.mark.parametrize(
    ("volts", "judgement", "words"),
    [
        (12.6, Judgement.HOLDS, "It holds: 12.6 V"),
        (12.3, Judgement.NEAR, "It is near its limit: 12.3 V"),
        (12.1, Judgement.PAST, "It is past its limit: 12.1 V"),
    ],
)
def test_a_quantity_stands_as_its_latest_value_does(
    sign_in: SignIn, door: DoorUnit, volts: float, judgement: Judgement, words: str
) -> None:
    """Bands of a 12 V battery at rest: holds from 12.4 V, past below 12.2 V (common practice)."""
    inspect(door, NOW - 2 * STEP, InspectionKind.COMMISSIONING, battery_rest=12.7)
    inspect(door, NOW - STEP, battery_rest=volts)
    client = sign_in()
    [group] = page_of(client).groups
    [shown] = group.quantities
    assert shown.judgement == judgement
    assert shown.sentence.startswith(words)
    assert "2 measurements; when new 12.7 V; near below 12.4 V, past below 12.2 V" in shown.note
    assert "common practice, no source" in shown.note
    assert shown.rows[0][2] == f"{volts} V"
    text = body(client)
    assert words in text
    assert ("What is at its limit" in text) == (judgement != Judgement.HOLDS)


def test_travel_is_judged_against_the_doors_own_value_when_new(
    sign_in: SignIn, door: DoorUnit
) -> None:
    """15 % longer is near, 30 % past: 8.0 s when new, 9.5 s now."""
    inspect(door, NOW - 2 * STEP, InspectionKind.COMMISSIONING, travel_open_seconds=8.0)
    inspect(door, NOW - STEP, travel_open_seconds=9.5)
    [group] = page_of(sign_in()).groups
    [shown] = group.quantities
    assert shown.judgement == Judgement.NEAR
    assert "near above 9.2 s, past above 10.4 s" in shown.note


def test_without_a_value_when_new_there_is_nothing_to_compare_with(
    sign_in: SignIn, door: DoorUnit
) -> None:
    inspect(door, NOW - STEP, travel_open_seconds=9.5)
    page = page_of(sign_in())
    [shown] = page.groups[0].quantities
    assert shown.sentence.startswith("There is nothing to compare it with: 9.5 s")
    assert "no value from when the door was put into service" in shown.note
    assert "1 with nothing to compare with" in page.lead


def test_the_limits_are_those_that_were_kept_with_the_value(
    sign_in: SignIn, door: DoorUnit
) -> None:
    make_measurement(
        door=door, quantity="drag", value=120.0, measured_at=NOW - STEP, near_high=130.0,
        limit_high=170.0, limit_source="the maker's sheet",
    )  # fmt: skip
    [shown] = page_of(sign_in()).groups[0].quantities
    assert shown.judgement == Judgement.HOLDS
    assert "near above 130 N, past above 170 N (the maker&#x27;s sheet)" in body(sign_in())


def test_cycles_are_as_noted_between_readings_and_carried_on_after_the_last(
    sign_in: SignIn, door: DoorUnit
) -> None:
    make_measurement(door=door, measured_at=NOW - timedelta(days=100), at_cycles=3_333)
    make_measurement(door=door, measured_at=FIRST_AT + timedelta(days=7))
    make_measurement(door=door, measured_at=NOW - timedelta(hours=1))
    [shown] = page_of(sign_in()).groups[0].quantities
    latest, noted, first = (float(row[1].replace(",", "")) for row in shown.rows)
    assert (noted, first) == (3_333, 450)
    # The last reading, three days ago, stands at 8,850 cycles, and the door runs 50 a day.
    assert latest == pytest.approx(9_000, abs=10)


def test_what_was_looked_at_stands_in_words(sign_in: SignIn, door: DoorUnit) -> None:
    inspect(door, NOW - STEP, spring=0.0, cable_condition=1.0)
    page = page_of(sign_in())
    assert [(seen.value) for seen in page.looked_at] == ["as it should be", "shows wear"]
    assert [each.label for each in page.pressing] == [
        "Coil cable hangs and re-coils freely, no chafe"
    ]


def test_the_worst_comes_first_with_its_cautions(sign_in: SignIn, door: DoorUnit) -> None:
    inspect(door, NOW - STEP, battery_rest=12.3, converter_no_load=12.0, drag=60.0)
    page = page_of(sign_in())
    assert [each.judgement for each in page.pressing] == [Judgement.PAST, Judgement.NEAR]
    assert page.lead.startswith("Of 3 quantities 1 past the limit, 1 near it, 1 holding")
    assert [caution.code for caution in page.cautions] == ["C4"]


def test_a_corrected_value_counts_in_place_of_the_wrong_one(
    sign_in: SignIn, door: DoorUnit
) -> None:
    wrong = make_measurement(door=door, value=1.26, measured_at=NOW - STEP)
    wrong.superseded_at = NOW - timedelta(days=1)
    wrong.save()
    make_measurement(door=door, value=12.6, measured_at=NOW - STEP, corrects=wrong)
    [shown] = page_of(sign_in()).groups[0].quantities
    assert [row[2] for row in shown.rows] == ["12.6 V"]


# The coil cable


def test_a_cable_that_wears_has_a_trend_and_a_crossing(sign_in: SignIn, door: DoorUnit) -> None:
    """5 mΩ more every 1,050 cycles, straight through 105 at 1,150 cycles."""
    measure_cable(door, [100, 105, 110, 115, 120, 125, 130])
    cable = page_of(sign_in()).cable
    assert cable is not None
    # As new is the median of the first three, 105: watch at 136.5, act at 168.
    assert "No trend" not in cable.sentences[0]
    assert "It rises by 47.6 mΩ per 10,000 cycles" in cable.sentences[0]
    assert "It reaches the watch limit at about 7,800 cycles" in cable.sentences[0]
    assert "It reaches the act limit at about 14,400 cycles" in cable.sentences[0]
    assert cable.picture is not None
    assert cable.picture.note.startswith("7 measurements of this cable")
    assert "watch at 137 mΩ" in cable.picture.note
    assert "act at 168 mΩ" in cable.picture.note
    assert cable.standing is not None
    assert cable.standing.judgement == Judgement.HOLDS


@pytest.mark.parametrize(
    ("milliohms", "words"),
    [
        ([100, 101, 99, 100, 101, 99, 100], "over 7 measurements it does not clearly rise"),
        ([100, 110, 120], "3 measurements of this cable, and it takes 6"),
        ([100], "and it takes 6"),
    ],
)
def test_no_trend_is_claimed_that_is_not_proven(
    sign_in: SignIn, door: DoorUnit, milliohms: list[float], words: str
) -> None:
    measure_cable(door, milliohms)
    cable = page_of(sign_in()).cable
    assert cable is not None
    assert cable.sentences[0].startswith("No trend")
    assert words in cable.sentences[0]


@pytest.mark.parametrize(
    ("milliohms", "state", "words"),
    [
        ([100, 100, 100, 120, 140], CableState.WATCH, "Watch it: 140 mΩ"),
        ([100, 100, 100, 120, 140, 165], CableState.ACT, "It is past its limit: 165 mΩ"),
        ([100, 100, 100, 130], CableState.SUDDEN, "It rose by more than 25 % at once, to 130 mΩ"),
    ],
)
def test_a_cable_at_its_limit_is_said_first(
    sign_in: SignIn, door: DoorUnit, milliohms: list[float], state: CableState, words: str
) -> None:
    measure_cable(door, milliohms)
    page = page_of(sign_in())
    assert page.cable is not None
    assert page.cable.standing is not None
    assert page.cable.standing.sentence.startswith(words)
    labels = [each.label for each in page.pressing]
    assert "Resistance of the coil cable" in labels, state


def test_a_jump_of_the_past_is_still_told(sign_in: SignIn, door: DoorUnit) -> None:
    measure_cable(door, [100, 100, 100, 140, 141])
    cable = page_of(sign_in()).cable
    assert cable is not None
    assert cable.sentences[1] == (
        "By 3,250 cycles it had risen by more than 25 % at once, as joints do."
    )


def test_the_rule_that_trips_first_is_named(sign_in: SignIn, door: DoorUnit) -> None:
    """1.4 V lost at 10 A: 1.33 times as new, while the volts alone hold up to 2.0 V."""
    measure_cable(door, [100, 100, 100, 120, 140])
    cable = page_of(sign_in()).cable
    assert cable is not None
    assert "The resistance warns before the voltage at the motor does" in cable.sentences[-1]


def test_the_crossing_lies_within_its_range_also_amid_the_points(
    sign_in: SignIn, door: DoorUnit
) -> None:
    """A straight line has one crossing and no range; a scattered one a range that holds it."""
    measure_cable(door, [100, 112, 120, 131, 139, 152, 158, 171])
    cable = page_of(sign_in()).cable
    assert cable is not None
    told = re.findall(r"about ([\d,]+) cycles \(([\d,]+) to ([\d,]+)\)", cable.sentences[0])
    assert told
    for found in told:
        at, low, high = (int(word.replace(",", "")) for word in found)
        assert low <= at <= high
        assert low < high


@pytest.mark.parametrize(
    ("volts_lost", "words"),
    [
        (2.1, "The voltage at the motor is near its limit, and goes before the resistance."),
        (3.1, "The voltage at the motor is past its limit, and goes before the resistance."),
    ],
)
def test_the_voltage_goes_first_where_it_says_more(
    sign_in: SignIn, door: DoorUnit, volts_lost: float, words: str
) -> None:
    """A poor cable from the start: it does not change, but it loses too much (2.0 and 3.0 V)."""
    for number in range(3):
        at = FIRST_AT + number * STEP
        inspect(door, at, amps=21.0, board_output=32.0, motor_end=round(32.0 - volts_lost, 2))
    cable = page_of(sign_in()).cable
    assert cable is not None
    assert cable.sentences[-1] == words


def test_a_new_cable_begins_a_new_line(sign_in: SignIn, door: DoorUnit) -> None:
    fitted_at = FIRST_AT + 3.5 * STEP
    make_fitment(
        door=door, component=component("coil_cable"), fitted_on=fitted_at.date(), fitted_at_cycles=0
    )
    measure_cable(door, [100, 130, 170, 210, 90, 91, 90])
    cable = page_of(sign_in()).cable
    assert cable is not None
    assert cable.standing is not None
    assert cable.standing.judgement == Judgement.HOLDS
    assert cable.picture is not None
    assert cable.picture.note.startswith("3 measurements of this cable; on the door since")
    assert [row[-1] for row in cable.picture.rows] == ["yes"] * 3 + ["cable before"] * 4


def test_a_bad_value_of_the_day_of_the_change_is_the_old_cables(
    sign_in: SignIn, door: DoorUnit
) -> None:
    changed_on = (FIRST_AT + 3 * STEP).date()
    make_fitment(door=door, component=component("coil_cable"), fitted_on=changed_on)
    measure_cable(door, [100, 130, 170, 210, 90])
    cable = page_of(sign_in()).cable
    assert cable is not None
    assert cable.picture is not None
    assert [row[-1] for row in cable.picture.rows] == ["yes", *["cable before"] * 4]


def test_a_cable_not_measured_since_its_change_says_so(sign_in: SignIn, door: DoorUnit) -> None:
    measure_cable(door, [100, 130, 170])
    make_fitment(
        door=door, component=component("coil_cable"), fitted_on=(NOW - timedelta(days=2)).date()
    )
    page = page_of(sign_in())
    assert page.cable is not None
    assert page.cable.standing is None
    assert "Mon 23 Nov 2026 and has not been measured since" in page.cable.sentences[0]


def test_pairs_that_say_nothing_are_left_out_and_counted(sign_in: SignIn, door: DoorUnit) -> None:
    measure_cable(door, [100, 100, 100, 100])
    inspect(door, NOW - timedelta(days=5), amps=None, board_output=32.0, motor_end=31.0)
    inspect(door, NOW - timedelta(days=4), board_output=31.0, motor_end=31.5)
    inspect(door, NOW - timedelta(days=3), amps=4.0, board_output=32.0, motor_end=31.0)
    cable = page_of(sign_in()).cable
    assert cable is not None
    assert cable.picture is not None
    assert cable.picture.note.startswith("4 measurements of this cable; 2 measurements were left")
    assert cable.picture.rows[0][-1] == "no, current too low"


def test_without_any_current_nothing_is_said_of_the_resistance(
    sign_in: SignIn, door: DoorUnit
) -> None:
    inspect(door, NOW - STEP, amps=None, board_output=32.0, motor_end=31.0)
    cable = page_of(sign_in()).cable
    assert cable is not None
    assert cable.picture is None
    assert cable.sentences[0].startswith("1 measurement was left out: without its current")


def test_a_longer_record_needs_no_more_queries(sign_in: SignIn, door: DoorUnit) -> None:
    client = sign_in()
    made = 0

    def more(count: int) -> int:
        nonlocal made
        for _number in range(count):
            made += 1
            at = FIRST_AT + timedelta(days=made)
            inspection = make_inspection(door=door, begun_at=at)
            for quantity, value in (("board_output", 32.0), ("motor_end", 31.0), ("drag", 60.0)):
                make_measurement(
                    inspection=inspection, quantity=quantity, value=value, measured_at=at, amps=10.0
                )
        with CaptureQueriesContext(connection) as queries:
            body(client)
        return len(queries)

    assert more(3) == more(6)
