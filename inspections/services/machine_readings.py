"""Counter readings that other systems post in batches: each row is taken once, or says why not."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, tzinfo

from django.db import transaction
from django.db.models import Prefetch
from django.utils.translation import gettext as _

from fleetdoors.models import Depot, DoorUnit, MachineToken, Mounting
from fleetdoors.services.recomputation import doors_changed
from inspections.models import CounterReading, MachineEntry, Source
from inspections.services.readings import (
    ReadingClashError,
    ReadingRefusedError,
    keep_reading,
)

LARGEST_COUNTER = 10**12


@dataclass(frozen=True)
class PostedReading:
    """A row as it came; a moment without an offset is local to the truck's depot."""

    client_id: str
    door: str
    read_at: datetime
    counter_value: int

    @property
    def content(self) -> str:
        """A digest of what the row says, apart from its id."""
        said = f"{self.door}\n{self.read_at.isoformat()}\n{self.counter_value}"
        return hashlib.sha256(said.encode()).hexdigest()


@dataclass(frozen=True)
class RowAnswer:
    """What became of one row: the reading it is, or the reason why it was not taken."""

    client_id: str
    reading: CounterReading | None = None
    is_new: bool = False
    reason: str = ""


class RowRefusedError(ValueError):
    """This row is not taken; the others are not concerned."""


@dataclass(frozen=True)
class _Known:
    """What the rows of a batch may refer to, fetched once."""

    doors: dict[str, DoorUnit]
    entries: dict[str, MachineEntry]
    depots: frozenset[int] | None


@transaction.atomic
def take_readings(
    *, token: MachineToken, rows: Sequence[PostedReading], received_at: datetime
) -> list[RowAnswer]:
    """Take each row that can be taken, in the order sent; figures are asked for once."""
    # Locked, so that one system's batches follow one another and an id is never taken twice.
    token = MachineToken.objects.select_for_update().get(pk=token.pk)
    known = _known(token, rows)
    answers = [_answer(token, row, known, received_at) for row in rows]
    changed = {each.reading.door_id for each in answers if each.reading and each.is_new}
    doors_changed(sorted(changed))
    return answers


def _known(token: MachineToken, rows: Sequence[PostedReading]) -> _Known:
    open_now = Mounting.objects.open().select_related("truck__depot")
    doors = DoorUnit.objects.filter(serial__in={row.door for row in rows}).prefetch_related(
        Prefetch("mountings", open_now, to_attr="open_mountings")
    )
    ids = {row.client_id for row in rows}
    entries = MachineEntry.objects.filter(token=token, client_id__in=ids).select_related("reading")
    named = frozenset(token.depots.values_list("pk", flat=True))
    return _Known(
        doors={door.serial: door for door in doors},
        entries={entry.client_id: entry for entry in entries},
        depots=named or None,
    )


def _answer(
    token: MachineToken, row: PostedReading, known: _Known, received_at: datetime
) -> RowAnswer:
    try:
        before = known.entries.get(row.client_id)
        if before:
            return _repeated(row, before)
        entry = _take(token, row, known, received_at)
    except (RowRefusedError, ReadingRefusedError, ReadingClashError) as refused:
        return RowAnswer(row.client_id, reason=str(refused))
    known.entries[row.client_id] = entry
    return RowAnswer(row.client_id, entry.reading, is_new=True)


def _repeated(row: PostedReading, before: MachineEntry) -> RowAnswer:
    if before.content != row.content:
        raise RowRefusedError(
            _("This id was used for another reading before: each reading has an id of its own.")
        )
    return RowAnswer(row.client_id, before.reading)


@transaction.atomic
def _take(
    token: MachineToken, row: PostedReading, known: _Known, received_at: datetime
) -> MachineEntry:
    door = known.doors.get(row.door)
    depot = _depot_of(door) if door else None
    if door is None or not _in_sight(depot, known.depots):
        # One answer for both: a door elsewhere is no more than an unknown one to this system.
        raise RowRefusedError(_("No door with this number is in this token's sight."))
    if row.counter_value >= LARGEST_COUNTER:
        raise RowRefusedError(_("No counter shows so large a number."))
    reading = keep_reading(
        door=door,
        read_at=_placed(row.read_at, depot.zone if depot else UTC),
        counter_value=row.counter_value,
        entered_at=received_at,
        entered_by=None,
        read_by=token.name,
        source=Source.DEVICE,
    )
    return MachineEntry.objects.create(
        token=token,
        client_id=row.client_id,
        content=row.content,
        reading=reading,
        received_at=received_at,
    )


def _depot_of(door: DoorUnit) -> Depot | None:
    mounted: list[Mounting] = door.open_mountings  # type: ignore[attr-defined]
    return mounted[0].truck.depot if mounted else None


def _in_sight(depot: Depot | None, depots: frozenset[int] | None) -> bool:
    return depots is None or (depot is not None and depot.pk in depots)


def _placed(moment: datetime, zone: tzinfo) -> datetime:
    return moment if moment.tzinfo else moment.replace(tzinfo=zone)
