"""Builders of what a planner's desk keeps: calendar feeds and one-off checks."""

from __future__ import annotations

from datetime import timedelta

from fleetdoors.models import Depot, DoorModel, DoorUnit, Part
from inspections.models import OneOffCheck, OneOffLook
from inspections.services.visit_feeds import MadeFeed, make_feed
from tests.factories import NOW, make_depot, make_door


def make_calendar(*, depot: Depot | None = None, label: str = "The yard") -> MadeFeed:
    return make_feed(
        depot=depot or make_depot(), label=label, made_by=None, made_at=NOW - timedelta(days=3)
    )


def make_check(*, door_model: DoorModel | None = None, part: Part | None = None) -> OneOffCheck:
    if door_model is None and part is None:
        door_model = make_door().door_model
    return OneOffCheck.objects.create(
        title="Loose plug",
        what_to_look_at="Whether the plug behind the box is tight.",
        door_model=door_model,
        part=part,
        opened_at=NOW - timedelta(days=2),
    )


def make_look(*, check: OneOffCheck | None = None, door: DoorUnit | None = None) -> OneOffLook:
    return OneOffLook.objects.create(
        check_asked=check or make_check(),
        door=door or make_door(),
        looked_at=NOW,
        looked_by="Sam",
        is_as_it_should_be=True,
        entered_at=NOW,
    )
