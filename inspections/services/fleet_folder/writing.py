"""Writes planned rows of registries, stays, events and stock; the caller holds the transaction."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from datetime import datetime
from typing import Any

from django.db import connection, models

from fleetdoors.models import User
from fleetdoors.services.progress import Progress
from inspections.models import StockCount
from inspections.services.fleet_folder.columns import Column, Table
from inspections.services.fleet_folder.event_plan import EventPlan
from inspections.services.fleet_folder.existing import keys_of
from inspections.services.fleet_folder.keyed_plan import Change, KeyedPlan, Row
from inspections.services.fleet_folder.people_tables import PEOPLE
from inspections.services.fleet_folder.rows_insert import batches, insert_columns, prepared
from inspections.services.fleet_folder.stock_plan import FIGURES, StockPlan
from inspections.services.fleet_folder.tables import TABLES

BATCH = 20_000


class Writer:
    """Writes tables in order, and knows the keys of the rows that later ones refer to."""

    def __init__(self, progress: Progress) -> None:
        self.progress = progress
        self._keys: dict[str, dict[str, int]] = {}

    def key(self, table: str, code: str) -> int:
        """Primary key of the row with that code."""
        if table not in self._keys:
            self._keys[table] = keys_of(TABLES[table])
        return self._keys[table][code]

    def write_keyed(self, plan: KeyedPlan) -> None:
        """Add and change rows that have a key."""
        # The end of one stay makes room for the next.
        self._change(plan.table, plan.changed)
        self._add(plan.table, plan.new)
        self._keys.pop(plan.table.name, None)
        if plan.table is PEOPLE:
            _keep_out([row["person"] for row in plan.new])
        self._set_several(plan)

    def write_events(self, plan: EventPlan) -> None:
        """Add events; one that was corrected is linked to the row that corrects it."""
        links = _links(plan.new)
        linked = set(links) | set(links.values())
        made: dict[int, models.Model] = {}
        for index in sorted(linked):
            made[index] = self._instance(plan.table, plan.new[index])
        for old, new in links.items():
            made[new].corrects = made[old]  # type: ignore[attr-defined]
        for index in sorted(linked):
            made[index].save(force_insert=True)
        rest = [row for index, row in enumerate(plan.new) if index not in linked]
        self._add(plan.table, rest)

    def write_stock(self, plan: StockPlan) -> None:
        """Add counts; what they correct is in force no more."""
        for entry in plan.new:
            if entry.corrects is not None:
                StockCount.objects.in_force().filter(pk=entry.corrects).update(
                    superseded_at=entry.entered_at
                )
        StockCount.objects.bulk_create(
            [
                StockCount(
                    depot_id=self.key("depots", entry.depot),
                    part_id=self.key("parts", entry.part),
                    counted_at=entry.counted_at,
                    entered_at=entry.entered_at,
                    corrects_id=entry.corrects,
                    **dict(zip(FIGURES, entry.figures, strict=True)),
                )
                for entry in plan.new
            ],
            batch_size=500,
        )
        self.progress.advance(len(plan.new))

    def _add(self, table: Table, rows: Sequence[Row]) -> None:
        """Add rows; one that refers to a row of its own table is completed afterwards."""
        own = [c for c in table.stored if c.refers_to == table.name]
        columns = [c for c in table.stored if c not in own]
        for batch in batches(rows, BATCH):
            values = {_db_column(table, c): self._cells(table, c, batch) for c in columns}
            insert_columns(table.model, values)
            self.progress.advance(len(batch))
        for column in own:
            self._refer_to_own(table, column, rows)

    def _cells(self, table: Table, column: Column, rows: Sequence[Row]) -> list[Any]:
        """A column of rows as the database takes it."""
        values = [row[column.name] for row in rows]
        if column.stand_in:
            values = [
                row[column.stand_in] if value is None else value
                for row, value in zip(rows, values, strict=True)
            ]
        if _is_reference(column):
            return [None if each is None else self.key(column.refers_to, each) for each in values]
        default = prepared(_field(table, column).get_default())
        return [default if each is None else prepared(each) for each in values]

    def _refer_to_own(self, table: Table, column: Column, rows: Sequence[Row]) -> None:
        self._keys.pop(table.name, None)
        name = _db_column(table, column)
        pairs = [
            (self.key(table.name, row[column.name]), self.key(table.name, row[table.key[0]]))
            for row in rows
            if row[column.name] is not None
        ]
        if pairs:
            with connection.cursor() as cursor:
                cursor.executemany(
                    f"UPDATE {table.model._meta.db_table} SET {name} = %s WHERE id = %s",
                    pairs,
                )

    def _instance(self, table: Table, row: Row) -> models.Model:
        instance = table.model()
        for column in table.stored:
            self._assign(instance, column, row[column.name])
        return instance

    def _assign(self, instance: models.Model, column: Column, value: Any) -> None:
        if value is None:
            return
        if _is_reference(column):
            setattr(instance, f"{column.field}_id", self.key(column.refers_to, value))
        else:
            setattr(instance, column.field, value)

    def _change(self, table: Table, changes: list[Change]) -> None:
        by_columns: defaultdict[tuple[str, ...], list[models.Model]] = defaultdict(list)
        for change in changes:
            stored = [c for c in table.stored if c.name in change.values]
            instance = table.model(pk=change.pk)
            for column in stored:
                self._assign(instance, column, change.values[column.name])
            by_columns[tuple(column.field for column in stored)].append(instance)
            self.progress.advance(1)
        for names, instances in by_columns.items():
            if names:
                table.model._default_manager.bulk_update(instances, names, batch_size=500)

    def _set_several(self, plan: KeyedPlan) -> None:
        """Name the rows of a many-valued column anew."""
        wanted: list[tuple[int, Row]] = [(change.pk, change.values) for change in plan.changed]
        if plan.table.several:
            wanted += [(self.key(plan.table.name, row[plan.table.key[0]]), row) for row in plan.new]
        for column in plan.table.several:
            for pk, values in wanted:
                if values.get(column.name) is not None:
                    instance = plan.table.model(pk=pk)
                    keys = [self.key(column.refers_to, code) for code in values[column.name]]
                    getattr(instance, column.field).set(keys)


def _keep_out(usernames: Sequence[str]) -> None:
    """Nobody signs in because a file says so."""
    for batch in batches(usernames, BATCH):
        User.objects.filter(username__in=batch).update(is_active=False)


def _field(table: Table, column: Column) -> models.Field[Any, Any]:
    field = table.model._meta.get_field(column.field)
    if not isinstance(field, models.Field):
        raise TypeError(f"{table.name}.{column.name} must name a column of the model")
    return field


def _db_column(table: Table, column: Column) -> str:
    return str(_field(table, column).column)


def _is_reference(column: Column) -> bool:
    return bool(column.refers_to) and "__" in column.lookup


def _links(rows: Sequence[Row]) -> dict[int, int]:
    """Rows that were corrected, and for each the next row of the door entered at that moment."""
    entered: defaultdict[tuple[str, datetime], list[int]] = defaultdict(list)
    if any(row["corrected_at"] is not None for row in rows):
        for index, row in enumerate(rows):
            entered[row["door"], row["entered_at"]].append(index)
    links = {}
    for index, row in enumerate(rows):
        later = entered[row["door"], row["corrected_at"]] if row["corrected_at"] else []
        following = next((each for each in later if each > index), None)
        if following is not None:
            later.remove(following)
            links[index] = following
    return links
