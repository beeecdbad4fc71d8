"""An inspection is recorded: each value is judged, and what is past its limit is followed up."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from django.db import transaction
from django.utils.translation import gettext as _

from fleetdoors.models import Component, DoorUnit, MaintenanceTask, User
from inspections.codes import FAILURE_MODES, DetectedBy
from inspections.limits import Circumstances, DoorFigures, Limits, judge, limits_for
from inspections.models import (
    Fault,
    Inspection,
    InspectionKind,
    Judgement,
    Measurement,
    RoadHold,
    Visit,
    VisitState,
)
from inspections.quantities import QUANTITIES, WRONG, Quantity
from inspections.services.corrections import sign
from inspections.services.faults import FaultFacts, record_fault
from inspections.services.follow_ups import open_follow_up
from inspections.services.holds import place_hold
from inspections.services.visits import locked
from inspections.typed_values import Typed, check_typed


class InspectionRefusedError(ValueError):
    """The inspection cannot be true as it stands; `field` names what to look at."""

    def __init__(self, message: str, *, field: str = "") -> None:
        super().__init__(message)
        self.field = field


@dataclass(frozen=True)
class InspectionFacts:
    """What holds for the whole inspection; current and temperature belong to the motor's end."""

    begun_at: datetime
    inspector: str
    kind: str = InspectionKind.ROUTINE
    all_as_it_should_be: bool = False
    amps: float | None = None
    celsius: float | None = None
    engine_running: bool = False
    note: str = ""


@transaction.atomic
def record_inspection(
    *,
    door: DoorUnit,
    facts: InspectionFacts,
    values: Mapping[str, float],
    entered_at: datetime,
    entered_by: User | None = None,
    visit: Visit | None = None,
) -> Inspection:
    """Keep the values with the limits in force, and open what a value past its limit asks for.

    The same inspection by the same person at the same moment is one.
    """
    door = DoorUnit.objects.select_for_update().select_related("door_model").get(pk=door.pk)
    same = Inspection.objects.filter(
        door=door, kind=facts.kind, begun_at=facts.begun_at, entered_by=entered_by
    ).first()
    if same:
        return same
    visit = locked(visit) if visit else None
    _check(door, facts, values, visit)
    inspection = Inspection.objects.create(
        door=door,
        visit=visit,
        kind=facts.kind,
        begun_at=facts.begun_at,
        all_as_it_should_be=facts.all_as_it_should_be,
        inspector=facts.inspector.strip(),
        note=facts.note.strip(),
        entered_at=entered_at,
        entered_by=entered_by,
    )
    circumstances = circumstances_of(door, facts, values)
    for code in values:
        measurement = _measure(inspection, code, facts, circumstances)
        if measurement.judgement == Judgement.PAST:
            _follow_up(measurement)
    return inspection


def figures_of(door: DoorUnit) -> DoorFigures:
    """What the door model says about its limits."""
    model = door.door_model
    return DoorFigures(
        code=model.code,
        supply_volts=model.supply_volts,
        drive_volts_low=model.drive_volts_low,
        drive_volts_high=model.drive_volts_high,
        cable_awg=model.cable_awg,
        cable_metres=model.cable_metres,
        sensor_offset_mm=model.sensor_offset_mm,
    )


def circumstances_of(
    door: DoorUnit, facts: InspectionFacts, values: Mapping[str, float]
) -> Circumstances:
    """What was measured now and when the door was put into service; queries once."""
    baselines = {each.quantity: each for each in reversed(Measurement.objects.baselines(door))}
    new = baselines.get("motor_end")
    return Circumstances(
        values=values,
        baselines={code: each.value for code, each in baselines.items()},
        amps=facts.amps,
        celsius=facts.celsius,
        baseline_amps=new.amps if new else None,
        baseline_celsius=new.celsius if new else None,
        engine_running=facts.engine_running,
    )


def doubts_about(*, door: DoorUnit, values: Mapping[str, float]) -> list[str]:
    """Questions about values that a hurried thumb may have meant otherwise."""
    asked = []
    for code, value in values.items():
        quantity = QUANTITIES[code]
        if not quantity.typed_as:
            continue
        checked = check_typed(quantity.typed_as, abs(value), door.door_model.supply_volts)
        if checked.verdict != Typed.DOUBTFUL:
            continue
        facts = {"name": quantity.name, "value": f"{value:g}", "unit": quantity.unit}
        if checked.suggestion is None:
            asked.append(_("%(name)s: %(value)s %(unit)s is unusual. Is it right?") % facts)
        else:
            facts["meant"] = f"{checked.suggestion:g}"
            asked.append(
                _("%(name)s: %(value)s %(unit)s. Was %(meant)s meant (decimal point)?") % facts
            )
    return asked


def _check(
    door: DoorUnit, facts: InspectionFacts, values: Mapping[str, float], visit: Visit | None
) -> None:
    if visit and (visit.door_id != door.pk or visit.state != VisitState.OPEN):
        raise InspectionRefusedError(
            _("An inspection belongs to an open visit of its door: this one is “%(state)s”.")
            % {"state": visit.get_state_display()}
        )
    if not facts.inspector.strip():
        raise InspectionRefusedError(
            _("An inspection carries a name: it is empty."), field="inspector"
        )
    if not values and not facts.all_as_it_should_be:
        raise InspectionRefusedError(
            _("Nothing was entered: measure something, or say that all is as it should be.")
        )
    for code, value in values.items():
        _check_value(door, code, value)
    _check_power(door, values)


def _check_power(door: DoorUnit, values: Mapping[str, float]) -> None:
    """Nothing is measured with power where spring or lift cable is damaged."""
    powered = [code for code in values if QUANTITIES[code].is_powered]
    seen_now = any(values.get(code) == WRONG for code in ("spring", "lift_cables"))
    if powered and (seen_now or RoadHold.objects.forbid_power(door).exists()):
        raise InspectionRefusedError(
            _("The door is not run while spring, cable or control are not signed for: %(name)s.")
            % {"name": QUANTITIES[powered[0]].name},
            field=powered[0],
        )


def _check_value(door: DoorUnit, code: str, value: float) -> None:
    quantity = QUANTITIES.get(code)
    if quantity is None:
        raise InspectionRefusedError(
            _("There is no such quantity: %(code)s.") % {"code": code}, field=code
        )
    facts = {"name": quantity.name, "value": f"{value:g}", "unit": quantity.unit}
    if quantity.grades:
        if value not in dict(quantity.grades):
            raise InspectionRefusedError(
                _("%(name)s: %(value)s is none of the choices.") % facts, field=code
            )
        return
    # Drift has a sign; how far is what can be judged.
    typed = abs(value) if quantity.typed_as == "millimetres" else value
    checked = check_typed(quantity.typed_as, typed, door.door_model.supply_volts)
    if not math.isfinite(value) or checked.verdict == Typed.IMPOSSIBLE:
        raise InspectionRefusedError(
            _("%(name)s cannot read %(value)s %(unit)s: between %(low)g and %(high)g is possible.")
            % {**facts, "low": checked.low, "high": checked.high},
            field=code,
        )


def _measure(
    inspection: Inspection, code: str, facts: InspectionFacts, circumstances: Circumstances
) -> Measurement:
    value = circumstances.values[code]
    limits = limits_for(code, figures_of(inspection.door), circumstances)
    measurement = Measurement(
        door=inspection.door,
        inspection=inspection,
        visit=inspection.visit,
        quantity=code,
        value=value,
        measured_at=facts.begun_at,
        amps=facts.amps if QUANTITIES[code].with_current else None,
        celsius=facts.celsius if QUANTITIES[code].with_current else None,
        engine_running=facts.engine_running,
        judgement=judge(value, limits),
        **_columns(limits),
    )
    sign(measurement, corrects=None, reason="", by=inspection.entered_by, at=inspection.entered_at)
    measurement.save()
    return measurement


def _columns(limits: Limits) -> dict[str, float | str | None]:
    return {
        "limit_low": limits.limit_low,
        "near_low": limits.near_low,
        "near_high": limits.near_high,
        "limit_high": limits.limit_high,
        "limit_source": limits.source,
    }


def _follow_up(measurement: Measurement) -> None:
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
    words = str(dict(quantity.grades).get(measurement.value, "")) or (
        f"{measurement.value:g} {quantity.unit}"
    )
    return _("%(name)s: %(words)s") % {"name": quantity.name, "words": words}
