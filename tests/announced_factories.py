"""Builders of announced changes, as a person would enter them."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

from fleetdoors.models import Depot, DoorModel, Part, User
from inspections.models import AnnouncedChange, AnnouncedKind
from inspections.services.announced_changes import Announcement, announced_row
from tests.factories import NOW, make_depot, make_door_model, make_part

TOLD_AT = NOW - timedelta(days=2)
TODAY = NOW.date()


def kept(said: Announcement, *, at: datetime = TOLD_AT, by: User | None = None) -> AnnouncedChange:
    """The change on record, without asking anybody for new figures."""
    row = announced_row(said=said, entered_at=at, entered_by=by)
    row.save()
    return row


def make_new_trucks(
    *,
    depot: Depot | None = None,
    door_model: DoorModel | None = None,
    doors: int = 10,
    cycles_per_day: float = 40.0,
    in_days: int = 0,
    at: datetime = TOLD_AT,
    by: User | None = None,
) -> AnnouncedChange:
    said = Announcement(
        kind=AnnouncedKind.TRUCKS,
        depot=depot or make_depot(),
        door_model=door_model or make_door_model(),
        doors=doors,
        cycles_per_day=cycles_per_day,
        from_on=TODAY + timedelta(days=in_days),
        note="Leasing office",
    )
    return kept(said, at=at, by=by)


def make_other_use(
    *,
    depot: Depot | None = None,
    route_kind: str = "",
    factor: float = 1.5,
    in_days: int = 0,
    days: int | None = None,
    at: datetime = TOLD_AT,
    by: User | None = None,
) -> AnnouncedChange:
    first = TODAY + timedelta(days=in_days)
    said = Announcement(
        kind=AnnouncedKind.USE,
        depot=depot,
        route_kind=route_kind,
        factor=factor,
        from_on=first,
        until_on=None if days is None else first + timedelta(days=days - 1),
        note="New contract",
    )
    return kept(said, at=at, by=by)


def make_campaign(
    *,
    depot: Depot | None = None,
    part: Part | None = None,
    new_part: Part | None = None,
    doors: int = 12,
    pieces: int = 2,
    in_days: int = 10,
    days: int = 40,
    at: datetime = TOLD_AT,
    **facts: Any,
) -> AnnouncedChange:
    part = part or make_part()
    first = TODAY + timedelta(days=in_days)
    said = Announcement(
        kind=AnnouncedKind.CAMPAIGN,
        depot=depot or make_depot(),
        part=part,
        new_part=new_part or part,
        doors=doors,
        pieces_per_door=pieces,
        from_on=first,
        until_on=first + timedelta(days=days - 1),
        note="Maker's letter",
        **facts,
    )
    return kept(said, at=at)
