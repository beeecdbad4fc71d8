"""What a value past its limit opens: a fault, a task or a road hold; and what a correction ends."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from django.utils.translation import gettext as _

from fleetdoors.measures import System
from fleetdoors.models import Component, MaintenanceTask, User
from fleetdoors.units_in_use import units
from inspections.codes import FAILURE_MODES, Action, DetectedBy
from inspections.models import Fault, FollowUp, Judgement, Measurement
from inspections.quantities import QUANTITIES, Quantity
from inspections.services.faults import FaultFacts, correct_fault, record_fault
from inspections.services.follow_ups import drop_follow_up, open_follow_up
from inspections.services.holds import place_hold


@dataclass(frozen=True)
class Correction:
    """Why, when and by whom something was corrected."""

    reason: str
    entered_at: datetime
    entered_by: User | None = None


def open_what_follows(measurement: Measurement) -> None:
    """A fault, a task or a road hold, as the quantity says; one that stands is not doubled."""
    quantity = QUANTITIES[measurement.quantity]
    consequence, because = quantity.consequence, _because(measurement, quantity)
    if consequence.task:
        open_follow_up(
            door=measurement.door,
            task=MaintenanceTask.objects.get(code=consequence.task),
            because=because,
            measurement=measurement,
            opened_at=measurement.measured_at,
            entered_at=measurement.entered_at,
            entered_by=measurement.entered_by,
        )
    else:
        _open_fault(measurement, quantity, because)
    if consequence.hold:
        place_hold(
            door=measurement.door,
            because=consequence.hold,
            detail=because,
            placed_at=measurement.measured_at,
            placed_by=measurement.entered_by,
            entered_at=measurement.entered_at,
        )


def end_what_followed(measurement: Measurement, correction: Correction) -> None:
    """End the task or fault that a value now corrected had opened, unless it was answered.

    Another value of the same run that asks for the same task asks for it anew. A road hold stands
    until a named person signs: no correction of a number lets a truck go.
    """
    consequence = QUANTITIES[measurement.quantity].consequence
    why = _("the measurement was corrected: %(reason)s") % {"reason": correction.reason}
    if not consequence.task:
        _end_fault(measurement, why, correction)
        return
    asked = FollowUp.objects.open().filter(
        door=measurement.door,
        measurement__quantity=measurement.quantity,
        measurement__measured_at=measurement.measured_at,
    )
    for follow_up in asked:
        drop_follow_up(
            follow_up=follow_up,
            reason=why[:200],
            dropped_at=correction.entered_at,
            entered_at=correction.entered_at,
        )
    for other in _others_past(measurement, consequence.task):
        open_what_follows(other)


def _others_past(measurement: Measurement, task: str) -> list[Measurement]:
    """Other values of the same inspection, past their limit, that ask for the task."""
    if measurement.inspection is None:
        return []
    past = measurement.inspection.measurements.in_force().filter(judgement=Judgement.PAST)
    others = past.exclude(quantity=measurement.quantity).select_related("door").order_by("pk")
    return [each for each in others if QUANTITIES[each.quantity].consequence.task == task]


def _end_fault(measurement: Measurement, why: str, correction: Correction) -> None:
    consequence = QUANTITIES[measurement.quantity].consequence
    opened = Fault.objects.unrepaired().filter(
        door=measurement.door,
        mode=consequence.mode,
        complaint=consequence.complaint,
        found_at=measurement.measured_at,
        detected_by=DetectedBy.INSPECTION,
    )
    for fault in opened.select_related("component"):
        correct_fault(
            fault=fault,
            facts=FaultFacts(
                found_at=fault.found_at,
                at_cycles=fault.at_cycles,
                component=fault.component,
                mode=fault.mode,
                complaint=fault.complaint,
                detected_by=fault.detected_by,
                is_failure=False,
                action=Action.NONE_FOUND,
                note=fault.note,
            ),
            reason=why,
            entered_at=correction.entered_at,
            entered_by=correction.entered_by,
        )


def _open_fault(measurement: Measurement, quantity: Quantity, because: str) -> None:
    consequence = quantity.consequence
    alike = Fault.objects.unrepaired().filter(door=measurement.door)
    if alike.filter(mode=consequence.mode, complaint=consequence.complaint).exists():
        return
    mode = FAILURE_MODES.get(consequence.mode)
    record_fault(
        door=measurement.door,
        facts=FaultFacts(
            found_at=measurement.measured_at,
            component=Component.objects.get(code=mode.component) if mode else None,
            mode=consequence.mode,
            complaint=consequence.complaint,
            detected_by=DetectedBy.INSPECTION,
            is_failure=consequence.loses_function,
            note=because,
        ),
        parts=(),
        entered_at=measurement.entered_at,
        entered_by=measurement.entered_by,
    )


def _because(measurement: Measurement, quantity: Quantity) -> str:
    # What goes on record is in the units of the record; pages turn it into those of the reader.
    with units(System.METRIC):
        return _in_units_of_record(measurement, quantity)


def _in_units_of_record(measurement: Measurement, quantity: Quantity) -> str:
    words = str(dict(quantity.grades).get(measurement.value, "")) or (
        f"{measurement.value:g} {quantity.unit}"
    )
    return _("%(name)s: %(words)s") % {"name": quantity.name, "words": words}
