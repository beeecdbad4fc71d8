"""An inspection is recorded: each value is judged, and what is past its limit is followed up."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from django.db import transaction
from django.utils.translation import gettext as _

from fleetdoors.models import DoorUnit, User
from fleetdoors.templatetags.units import as_typed, unit_shown
from inspections.limits import Circumstances, DoorFigures, Limits, judge, limits_for
from inspections.models import (
    Inspection,
    InspectionKind,
    Judgement,
    Measurement,
    RoadHold,
    Visit,
    VisitState,
)
from inspections.quantities import QUANTITIES, RIGHT, WRONG
from inspections.services.corrections import sign
from inspections.services.findings import open_what_follows
from inspections.services.lifetime_cycles import lifetime_cycles_at
from inspections.services.recorded_checks import mark_jobs_done
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
    if facts.all_as_it_should_be:
        values = _with_looked_at(door, values)
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
    _measure_all(inspection, facts, values)
    if facts.all_as_it_should_be:
        mark_jobs_done(inspection, frozenset(values))
    return inspection


def _measure_all(
    inspection: Inspection, facts: InspectionFacts, values: Mapping[str, float]
) -> None:
    """Keep each value at the door's cycles, and open what one past its limit asks for."""
    door = inspection.door
    circumstances = circumstances_of(door, facts, values)
    at_cycles = lifetime_cycles_at(door=door, moment=facts.begun_at)
    for code in values:
        measurement = _measure(inspection, code, facts, circumstances)
        measurement.at_cycles = at_cycles
        measurement.save()
        if measurement.judgement == Judgement.PAST:
            open_what_follows(measurement)


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
        facts = {
            "name": quantity.name,
            "value": as_typed(value, quantity.unit),
            "unit": unit_shown(quantity.unit),
        }
        if checked.suggestion is None:
            asked.append(_("%(name)s: %(value)s %(unit)s is unusual. Is it right?") % facts)
        else:
            facts["meant"] = as_typed(checked.suggestion, quantity.unit)
            asked.append(
                _("%(name)s: %(value)s %(unit)s. Was %(meant)s meant (decimal point)?") % facts
            )
    return asked


def _with_looked_at(door: DoorUnit, values: Mapping[str, float]) -> dict[str, float]:
    """What was entered, and every point to look at or try that was not, as it should be.

    What needs power is left out where the door must not be run.
    """
    stopped = _is_damaged(values) or RoadHold.objects.forbid_power(door).exists()
    looked_at = {
        code: RIGHT
        for code, quantity in QUANTITIES.items()
        if quantity.grades and not (stopped and quantity.is_powered)
    }
    return looked_at | dict(values)


def _is_damaged(values: Mapping[str, float]) -> bool:
    return any(values.get(code) == WRONG for code in ("spring", "lift_cables"))


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
        check_value(door, code, value)
    _check_power(door, values)


def _check_power(door: DoorUnit, values: Mapping[str, float]) -> None:
    """Nothing is measured with power where spring or lift cable is damaged."""
    powered = [code for code in values if QUANTITIES[code].is_powered]
    if powered and (_is_damaged(values) or RoadHold.objects.forbid_power(door).exists()):
        raise InspectionRefusedError(
            _("The door is not run while spring, cable or control are not signed for: %(name)s.")
            % {"name": QUANTITIES[powered[0]].name},
            field=powered[0],
        )


def check_value(door: DoorUnit, code: str, value: float) -> None:
    """Raise InspectionRefusedError for a value that the quantity cannot have."""
    quantity = QUANTITIES.get(code)
    if quantity is None:
        raise InspectionRefusedError(
            _("There is no such quantity: %(code)s.") % {"code": code}, field=code
        )
    facts = {
        "name": quantity.name,
        "value": as_typed(value, quantity.unit),
        "unit": unit_shown(quantity.unit),
    }
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
            _("%(name)s cannot read %(value)s %(unit)s: between %(low)s and %(high)s is possible.")
            % {
                **facts,
                "low": as_typed(checked.low, quantity.unit),
                "high": as_typed(checked.high, quantity.unit),
            },
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
    return measurement


def _columns(limits: Limits) -> dict[str, float | str | None]:
    return {
        "limit_low": limits.limit_low,
        "near_low": limits.near_low,
        "near_high": limits.near_high,
        "limit_high": limits.limit_high,
        "limit_source": limits.source,
    }
