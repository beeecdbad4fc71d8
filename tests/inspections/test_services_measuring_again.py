"""A measurement corrected: by its own limits, and with what followed from it."""

from datetime import timedelta

import pytest

from inspections.codes import Action
from inspections.models import Fault, FollowUp, Inspection, Judgement, Measurement, RoadHold
from inspections.quantities import RIGHT, WRONG
from inspections.services.corrections import CorrectionRefusedError
from inspections.services.findings import Correction
from inspections.services.inspecting import (
    InspectionFacts,
    InspectionRefusedError,
    record_inspection,
)
from inspections.services.measuring_again import correct_measurement
from tests.factories import NOW, make_door, make_user

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("recompute_requests")]
LATER = NOW + timedelta(hours=2)


def inspected(values: dict[str, float], door=None) -> Inspection:
    return record_inspection(
        door=door or make_door(),
        facts=InspectionFacts(begun_at=NOW, inspector="Kim"),
        values=values,
        entered_at=NOW,
    )


def corrected(quantity: str, value: float, reason: str = "read the wrong scale") -> Measurement:
    return correct_measurement(
        measurement=Measurement.objects.in_force().get(quantity=quantity),
        value=value,
        correction=Correction(reason=reason, entered_at=LATER, entered_by=make_user()),
    )


def test_both_rows_stay_with_who_when_and_why() -> None:
    inspection = inspected({"battery_rest": 12.6})
    new = corrected("battery_rest", 12.3)
    old = Measurement.objects.get(pk=new.corrects_id)
    assert (old.value, old.superseded_at, old.judgement) == (12.6, LATER, Judgement.HOLDS)
    assert (new.value, new.judgement, new.reason) == (12.3, Judgement.NEAR, "read the wrong scale")
    assert new.entered_by is not None
    assert (new.measured_at, new.inspection) == (old.measured_at, inspection)


def test_the_limit_is_the_one_kept_with_the_measurement() -> None:
    door = make_door()
    inspected({"converter_no_load": 32.0}, door=door)
    door.door_model.drive_volts_low = 20.0
    door.door_model.save()
    assert corrected("converter_no_load", 29.0).judgement == Judgement.PAST


def test_past_its_limit_by_correction_opens_what_it_asks_for() -> None:
    inspected({"balance_half": -40.0})
    new = corrected("balance_half", -400.0)
    assert FollowUp.objects.open().get().measurement == new


def test_a_task_asked_for_by_a_slip_is_dropped_with_the_reason() -> None:
    inspected({"balance_half": -400.0})
    corrected("balance_half", -40.0)
    dropped = FollowUp.objects.get()
    assert dropped.closed_at == LATER
    assert "read the wrong scale" in dropped.closing_reason


def test_another_value_past_its_limit_still_asks_for_the_task() -> None:
    inspected({"balance_half": -400.0, "balance_quarter": -300.0})
    corrected("balance_half", -40.0)
    standing = FollowUp.objects.open().get()
    assert standing.measurement.quantity == "balance_quarter"
    assert FollowUp.objects.count() == 2


def test_an_earlier_finding_stands_when_a_later_one_was_a_slip() -> None:
    door = make_door()
    inspected({"drag": 200.0}, door=door)
    record_inspection(
        door=door,
        facts=InspectionFacts(begun_at=LATER, inspector="Kim"),
        values={"drag": 300.0},
        entered_at=LATER,
    )
    correct_measurement(
        measurement=Measurement.objects.get(value=300.0),
        value=90.0,
        correction=Correction(reason="slip", entered_at=LATER, entered_by=None),
    )
    assert FollowUp.objects.open().count() == 1


def test_a_fault_found_by_a_slip_is_corrected_to_none_found() -> None:
    inspected({"battery_rest": 11.9})
    corrected("battery_rest", 12.9)
    fault = Fault.objects.in_force().get()
    assert (fault.action, fault.is_failure) == (Action.NONE_FOUND, False)
    assert "read the wrong scale" in fault.reason
    assert fault.corrects is not None


def test_no_correction_lets_a_kept_truck_go() -> None:
    inspected({"spring": WRONG})
    corrected("spring", RIGHT)
    assert RoadHold.objects.standing().count() == 1


@pytest.mark.parametrize(
    ("value", "reason", "error"),
    [
        (12.6, "slip", CorrectionRefusedError),
        (12.3, "  ", CorrectionRefusedError),
        (320.0, "slip", InspectionRefusedError),
    ],
)
def test_what_is_no_correction_changes_nothing(value: float, reason: str, error: type) -> None:
    inspected({"battery_rest": 12.6})
    with pytest.raises(error):
        corrected("battery_rest", value, reason)
    kept = Measurement.objects.get()
    assert kept.superseded_at is None


def test_a_row_is_corrected_once() -> None:
    inspected({"battery_rest": 12.6})
    old = Measurement.objects.get()
    corrected("battery_rest", 12.4)
    with pytest.raises(CorrectionRefusedError, match="corrected before"):
        correct_measurement(
            measurement=old,
            value=12.0,
            correction=Correction(reason="again", entered_at=LATER, entered_by=None),
        )
