"""A measurement is corrected: a new row, judged by the limits kept with the old one."""

from __future__ import annotations

from django.db import transaction
from django.utils.translation import gettext as _

from fleetdoors.models import DoorUnit
from fleetdoors.services.recomputation import doors_changed
from inspections.limits import Limits, judge
from inspections.models import Judgement, Measurement
from inspections.services.corrections import CorrectionRefusedError, sign, supersede
from inspections.services.findings import Correction, end_what_followed, open_what_follows
from inspections.services.inspecting import check_value

KEPT = (
    "door_id", "inspection_id", "visit_id", "quantity", "measured_at", "at_cycles", "amps",
    "celsius", "engine_running", "limit_low", "near_low", "near_high", "limit_high",
    "limit_source",
)  # fmt: skip


@transaction.atomic
def correct_measurement(
    *, measurement: Measurement, value: float, correction: Correction
) -> Measurement:
    """Put another value in a measurement's place, and open or end what follows from it.

    The limits are those that were in force when it was measured, whatever the door model says now.
    """
    door = (
        DoorUnit.objects.select_for_update()
        .select_related("door_model")
        .get(pk=measurement.door_id)
    )
    check_value(door, measurement.quantity, value)
    if value == measurement.value:
        raise CorrectionRefusedError(
            _("That is the value on record: %(value)g.") % {"value": value}
        )
    supersede(measurement, reason=correction.reason, entered_at=correction.entered_at)
    corrected = Measurement(value=value, **{name: getattr(measurement, name) for name in KEPT})
    corrected.judgement = judge(value, _limits_of(measurement))
    sign(
        corrected,
        corrects=measurement,
        reason=correction.reason,
        by=correction.entered_by,
        at=correction.entered_at,
    )
    corrected.save()
    was, is_now = measurement.judgement == Judgement.PAST, corrected.judgement == Judgement.PAST
    if was and not is_now:
        end_what_followed(corrected, correction)
    elif is_now and not was:
        open_what_follows(corrected)
    doors_changed([door.pk])
    return corrected


def _limits_of(measurement: Measurement) -> Limits:
    return Limits(
        source=measurement.limit_source,
        limit_low=measurement.limit_low,
        near_low=measurement.near_low,
        near_high=measurement.near_high,
        limit_high=measurement.limit_high,
    )
