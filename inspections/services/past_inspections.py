"""Inspections of the past are taken over as they were, judged by the limits of their door."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from django.db import transaction

from fleetdoors.models import DoorUnit
from inspections.limits import Circumstances, judge, limits_for
from inspections.models import Inspection, InspectionKind, Measurement
from inspections.quantities import QUANTITIES
from inspections.services.inspecting import InspectionFacts, figures_of

BATCH = 1_000


@dataclass(frozen=True)
class PastInspection:
    """What was measured on a door once, value by quantity."""

    door: DoorUnit
    facts: InspectionFacts
    values: Mapping[str, float]
    entered_at: datetime


@transaction.atomic
def record_past_inspections(*, inspections: Sequence[PastInspection]) -> list[Inspection]:
    """Keep them, the earliest of each door first; queries a few times, however many there are.

    What a value past its limit would open today is not opened: it was dealt with at its time.
    The doors come with their door models.
    """
    ordered = sorted(inspections, key=lambda each: (each.door.pk, each.facts.begun_at))
    kept = Inspection.objects.bulk_create([_inspection(each) for each in ordered], batch_size=BATCH)
    when_new: dict[int, PastInspection] = {}
    measurements: list[Measurement] = []
    for past, inspection in zip(ordered, kept, strict=True):
        measurements += _measurements(past, inspection, when_new.get(past.door.pk))
        if past.facts.kind == InspectionKind.COMMISSIONING:
            when_new[past.door.pk] = past
    Measurement.objects.bulk_create(measurements, batch_size=BATCH)
    return kept


def _inspection(past: PastInspection) -> Inspection:
    return Inspection(
        door=past.door,
        kind=past.facts.kind,
        begun_at=past.facts.begun_at,
        all_as_it_should_be=past.facts.all_as_it_should_be,
        inspector=past.facts.inspector,
        note=past.facts.note,
        entered_at=past.entered_at,
    )


def _measurements(
    past: PastInspection, inspection: Inspection, when_new: PastInspection | None
) -> list[Measurement]:
    facts = past.facts
    found = Circumstances(
        values=past.values,
        baselines=when_new.values if when_new else {},
        amps=facts.amps,
        celsius=facts.celsius,
        baseline_amps=when_new.facts.amps if when_new else None,
        baseline_celsius=when_new.facts.celsius if when_new else None,
        engine_running=facts.engine_running,
    )
    figures, rows = figures_of(past.door), []
    for code, value in past.values.items():
        limits = limits_for(code, figures, found)
        with_current = QUANTITIES[code].with_current
        rows.append(
            Measurement(
                door=past.door,
                inspection=inspection,
                quantity=code,
                value=value,
                measured_at=facts.begun_at,
                amps=facts.amps if with_current else None,
                celsius=facts.celsius if with_current else None,
                engine_running=facts.engine_running,
                limit_low=limits.limit_low,
                near_low=limits.near_low,
                near_high=limits.near_high,
                limit_high=limits.limit_high,
                limit_source=limits.source,
                judgement=judge(value, limits),
                entered_at=past.entered_at,
            )
        )
    return rows
