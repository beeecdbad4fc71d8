"""Counter readings from telematics, in batches."""

from __future__ import annotations

from datetime import datetime
from typing import Annotated, Literal

from django.utils import timezone
from ninja import Field, Router, Schema

from fleetdoors.api.access import MachineRequest, Poster
from fleetdoors.api.call_limit import CallsAMinute
from inspections.services.machine_readings import PostedReading, RowAnswer, take_readings

LARGEST_BATCH = 500

router = Router(tags=["Readings"])

Text = Annotated[str, Field(min_length=1, max_length=64, pattern=r"^[^\x00-\x1f]+$")]


class ReadingIn(Schema):
    """One reading of one door's counter."""

    client_id: Text = Field(description="Your own id of this reading; it is taken once.")
    door: Annotated[str, Field(min_length=1, max_length=80, pattern=r"^[^\x00-\x1f]+$")] = Field(
        description="The door's serial number."
    )
    read_at: datetime = Field(
        description="ISO 8601; without an offset it is local to the truck's depot."
    )
    counter_value: int = Field(ge=0, lt=10**12, description="The number on the counter.")


class BatchIn(Schema):
    """Up to 500 readings."""

    readings: list[ReadingIn] = Field(min_length=1, max_length=LARGEST_BATCH)


class RowOut(Schema):
    """What became of one reading."""

    client_id: str
    outcome: Literal["taken", "taken before", "refused"]
    status: str | None = Field(
        description="accepted, held (waits for a person) or waiting (not judged yet)."
    )
    reason: str | None = Field(description="Why it was refused.")


class BatchOut(Schema):
    """What became of each reading, in the order sent."""

    taken: int
    taken_before: int
    refused: int
    rows: list[RowOut]


@router.post(
    "",
    auth=Poster(),
    throttle=CallsAMinute(120, of="readings"),
    response=BatchOut,
    url_name="readings",
    summary="Post counter readings",
)
def post_readings(request: MachineRequest, batch: BatchIn) -> BatchOut:
    """Each row is taken, was taken before, or is refused with its reason; no row stops another."""
    rows = [PostedReading(**row.model_dump()) for row in batch.readings]
    answers = take_readings(token=request.auth, rows=rows, received_at=timezone.now())
    told = [_told(answer) for answer in answers]
    outcomes = [row.outcome for row in told]
    return BatchOut(
        taken=outcomes.count("taken"),
        taken_before=outcomes.count("taken before"),
        refused=outcomes.count("refused"),
        rows=told,
    )


def _told(answer: RowAnswer) -> RowOut:
    if answer.reading is None:
        return RowOut(
            client_id=answer.client_id, outcome="refused", status=None, reason=answer.reason
        )
    # A new reading is judged once it is on record: its status is known at the next asking.
    return RowOut(
        client_id=answer.client_id,
        outcome="taken" if answer.is_new else "taken before",
        status="waiting" if answer.is_new else answer.reading.status,
        reason=None,
    )
