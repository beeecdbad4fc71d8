"""Builders of what other systems hold and post."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import timedelta

from fleetdoors.models import Depot, DoorUnit
from fleetdoors.services.machine_tokens import IssuedToken, issue_token
from inspections.models import MachineEntry
from tests.factories import NOW, make_door, make_reading


def make_token(
    *,
    may_read: bool = True,
    may_post_readings: bool = True,
    depots: Iterable[Depot] = (),
    name: str = "Telematics",
) -> IssuedToken:
    return issue_token(
        name=name,
        may_read=may_read,
        may_post_readings=may_post_readings,
        depots=depots,
        issued_by=None,
        issued_at=NOW - timedelta(days=1),
    )


def make_machine_entry(*, door: DoorUnit | None = None) -> MachineEntry:
    return MachineEntry.objects.create(
        token=make_token().token,
        client_id="a-1",
        content="0" * 64,
        reading=make_reading(door=door or make_door(), counter_value=1_000),
        received_at=NOW,
    )
