"""Writes planned counter readings, by the fastest way that each database has."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime

import numpy as np
from django.db import IntegrityError, connection

from fleetdoors.services.progress import Progress
from inspections.models import CounterReading, ReadingStatus
from inspections.services.fleet_folder.moments import (
    Ints,
    database_texts,
    microseconds,
    moment_of,
)
from inspections.services.fleet_folder.reading_arrays import (
    NO_VALUE,
    SOURCES,
    WORD_TEXTS,
    Readings,
    Word,
)
from inspections.services.fleet_folder.reading_plan import ReadingPlan
from inspections.services.fleet_folder.rows_insert import insert_rows, zone_suffix

BATCH = 50_000
TABLE = CounterReading._meta.db_table
COLUMNS = (
    "door_id",
    "read_at",
    "counter_value",
    "read_by",
    "source",
    "ruling",
    "status",
    "entered_at",
    "reason",
)
NewRow = tuple[int, str, int, str, str, str, str, str, str]


def write_readings(plan: ReadingPlan, door_pks: Ints, now: datetime, progress: Progress) -> None:
    """Write every planned reading; the caller holds the transaction."""
    readings = plan.readings
    for start in range(0, len(plan.new), BATCH):
        rows = plan.new[start : start + BATCH]
        insert_rows(TABLE, COLUMNS, _new_rows(readings, rows, door_pks))
        progress.advance(len(rows))
    _write_chains(plan, door_pks)
    _write_corrections(plan, now)
    _write_rulings(plan)


def _new_rows(readings: Readings, rows: Ints, door_pks: Ints) -> Iterator[NewRow]:
    zone = zone_suffix()
    read_at = database_texts(readings.read_at[rows], zone)
    is_entered_then = bool((readings.entered_at[rows] == readings.read_at[rows]).all())
    entered_at = read_at if is_entered_then else database_texts(readings.entered_at[rows], zone)
    return zip(
        door_pks[readings.door[rows]].tolist(),
        read_at,
        readings.value[rows].tolist(),
        map(readings.readers.__getitem__, readings.read_by[rows].tolist()),
        map(SOURCES.__getitem__, readings.source[rows].tolist()),
        map(WORD_TEXTS.__getitem__, readings.ruling[rows].tolist()),
        map(WORD_TEXTS.__getitem__, _status(readings, rows).tolist()),
        entered_at,
        [""] * len(rows),
        strict=True,
    )


def _status(readings: Readings, rows: Ints) -> Ints:
    """What holds until figures are made: a person's word, else the file's, else acceptance."""
    ruling, status = readings.ruling[rows], readings.status[rows]
    said = np.where(ruling != Word.NONE, ruling, status)
    return np.where(said == Word.HELD, Word.HELD, Word.ACCEPTED)


def _write_chains(plan: ReadingPlan, door_pks: Ints) -> None:
    """Write new readings that come with their corrections, step by step along the chains."""
    readings = plan.readings
    before: dict[int, CounterReading] = {}
    for depth in range(max(map(len, plan.new_chains.values()), default=0)):
        batch = {
            first: _chained(readings, chain[depth], door_pks, before.get(first))
            for first, chain in plan.new_chains.items()
            if depth < len(chain)
        }
        for first, row in batch.items():
            if readings.status[plan.new_chains[first][depth]] == Word.CORRECTED:
                row.superseded_at = _corrected_at(readings, plan.new_chains[first][depth])
        before |= dict(zip(batch, CounterReading.objects.bulk_create(batch.values()), strict=True))
    last = {first: chain[-1] for first, chain in plan.new_chains.items()}
    CounterReading.objects.bulk_create(
        [
            _correcting(readings, row, before[first])
            for first, row in last.items()
            if readings.status[row] == Word.CORRECTED
        ]
    )


def _chained(
    readings: Readings, row: int, door_pks: Ints, before: CounterReading | None
) -> CounterReading:
    """A reading of a chain as its own row tells it."""
    entered_at = moment_of(int(readings.entered_at[row]))
    return CounterReading(
        door_id=int(door_pks[readings.door[row]]),
        read_at=moment_of(int(readings.read_at[row])),
        counter_value=int(readings.value[row]),
        read_by=readings.readers[readings.read_by[row]],
        source=SOURCES[readings.source[row]],
        entered_at=entered_at,
        corrects=before,
    )


def _corrected_at(readings: Readings, row: int) -> datetime:
    """When a reading was corrected, never before it was entered."""
    return moment_of(int(max(readings.corrected_at[row], readings.entered_at[row])))


def _correcting(readings: Readings, row: int, old: CounterReading) -> CounterReading:
    """The reading in force at the end of a chain."""
    ruling = WORD_TEXTS[readings.ruling[row]]
    return CounterReading(
        door_id=old.door_id,
        read_at=old.read_at,
        counter_value=int(readings.corrected_value[row]),
        read_by=old.read_by,
        source=old.source,
        ruling=ruling,
        status=ruling or ReadingStatus.ACCEPTED,
        entered_at=old.superseded_at or old.entered_at,
        corrects=old,
    )


def _write_corrections(plan: ReadingPlan, now: datetime) -> None:
    """Put another value in the place of a stored one, which stays as history."""
    readings = plan.readings
    for start in range(0, len(plan.corrections), BATCH):
        part = slice(start, start + BATCH)
        pks = plan.corrected_pks[part].tolist()
        olds = CounterReading.objects.in_force().in_bulk(pks) if len(pks) < 500 else _by_pk(pks)
        if len(olds) != len(pks):
            raise IntegrityError("a reading was corrected by somebody else meanwhile")
        made = []
        for row, pk in zip(plan.corrections[part].tolist(), pks, strict=True):
            old = olds[pk]
            old.superseded_at = _entered_at(readings, row, old, now)
            made.append(_replacement(readings, row, old))
        CounterReading.objects.bulk_update(olds.values(), ["superseded_at"], batch_size=500)
        CounterReading.objects.bulk_create(made, batch_size=2_000)


def _by_pk(pks: list[int]) -> dict[int, CounterReading]:
    found: dict[int, CounterReading] = {}
    for start in range(0, len(pks), 500):
        found |= CounterReading.objects.in_force().in_bulk(pks[start : start + 500])
    return found


def _entered_at(readings: Readings, row: int, old: CounterReading, now: datetime) -> datetime:
    """When the correction became known: as the file says if that is later, else now."""
    if readings.status[row] == Word.CORRECTED:
        said = int(readings.corrected_at[row])
    else:
        said = int(readings.entered_at[row])
    return moment_of(said) if said > microseconds(old.entered_at) else max(now, old.entered_at)


def _replacement(readings: Readings, row: int, old: CounterReading) -> CounterReading:
    corrected = int(readings.corrected_value[row])
    ruling = WORD_TEXTS[readings.ruling[row]]
    return CounterReading(
        door_id=old.door_id,
        read_at=old.read_at,
        counter_value=int(readings.value[row]) if corrected == NO_VALUE else corrected,
        read_by=readings.readers[readings.read_by[row]] or old.read_by,
        source=SOURCES[readings.source[row]],
        ruling=ruling,
        status=ruling or ReadingStatus.ACCEPTED,
        entered_at=old.superseded_at or old.entered_at,
        corrects=old,
    )


def _write_rulings(plan: ReadingPlan) -> None:
    """Keep a person's word on readings that had none."""
    rows = [
        (WORD_TEXTS[ruling], WORD_TEXTS[ruling], pk)
        for ruling, pk in zip(
            plan.readings.ruling[plan.rulings].tolist(), plan.ruled_pks.tolist(), strict=True
        )
    ]
    if rows:
        with connection.cursor() as cursor:
            cursor.executemany(
                f"UPDATE {TABLE} SET ruling = %s, status = %s WHERE id = %s",
                rows,
            )
