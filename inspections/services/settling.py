"""Held readings are settled, several at once."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from django.db import transaction

from fleetdoors.models import User
from inspections.models import CounterReading, ReadingStatus
from inspections.services.readings import correct_reading, rule_on_reading


@dataclass(frozen=True)
class Decision:
    """What a person says of one reading: a ruling, or the value it should have been."""

    reading: CounterReading
    reason: str
    ruling: ReadingStatus = ReadingStatus.ACCEPTED
    corrected_value: int | None = None


@transaction.atomic
def settle_readings(
    *, decisions: Sequence[Decision], entered_at: datetime, entered_by: User | None = None
) -> list[CounterReading]:
    """Carry out all decisions or none; returns the readings that are in force now."""
    return [_settle(decision, entered_at, entered_by) for decision in decisions]


def _settle(decision: Decision, entered_at: datetime, entered_by: User | None) -> CounterReading:
    if decision.corrected_value is None:
        return rule_on_reading(
            reading=decision.reading,
            ruling=decision.ruling,
            reason=decision.reason,
            entered_at=entered_at,
            entered_by=entered_by,
        )
    return correct_reading(
        reading=decision.reading,
        counter_value=decision.corrected_value,
        read_at=decision.reading.read_at,
        reason=decision.reason,
        entered_at=entered_at,
        entered_by=entered_by,
    )
