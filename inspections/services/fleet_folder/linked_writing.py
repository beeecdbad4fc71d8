"""Writes planned rows of the linked tables; the caller holds the transaction."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.db import models

from fleetdoors.services.progress import Progress
from inspections.models import StockMovement
from inspections.services.fleet_folder.columns import Column
from inspections.services.fleet_folder.existing import keys_of
from inspections.services.fleet_folder.keyed_plan import Row
from inspections.services.fleet_folder.linked_marks import MADE_OF, marks_in_database
from inspections.services.fleet_folder.linked_plan import LinkedPlan
from inspections.services.fleet_folder.rows_insert import batches
from inspections.services.fleet_folder.tables import TABLES
from inspections.services.ledger_import import ToBook

BATCH = 1_000


class LinkedWriter:
    """Writes the tables in order, and knows the key behind each mark."""

    def __init__(self, progress: Progress) -> None:
        self.progress = progress
        self._codes: dict[str, dict[str, int]] = {}
        self._marks: dict[str, dict[Any, int]] = {}

    def write_all(self, plans: Sequence[LinkedPlan]) -> None:
        """Add the rows of every plan."""
        for plan in plans:
            self._marks[plan.table.name] = dict(plan.there)
            if not plan.table.is_booked:
                self._write(plan)

    def to_book(self, plan: LinkedPlan) -> list[ToBook]:
        """The rows of a table that the ledger writes, each after the one that it takes back."""
        columns = [c for c in plan.table.written if c.links_to != plan.table.name]
        found: dict[int, ToBook] = {}
        for mark, row in plan.new.items():
            said = self._instance(plan, columns, row)
            if not isinstance(said, StockMovement):
                raise TypeError(f"{plan.table.name} must be a table of movements")
            back = row["reverses"]
            if back is not None:
                said.reverses_id = plan.there.get(back)
            found[mark] = ToBook(said, found.get(back))
            self.progress.advance(1)
        return list(found.values())

    def _write(self, plan: LinkedPlan) -> None:
        own = [c for c in plan.table.links if c.links_to == plan.table.name]
        columns = [c for c in plan.table.written if c not in own]
        marks = self._marks[plan.table.name]
        for batch in batches(list(plan.new.items()), BATCH):
            made = [self._instance(plan, columns, row) for _mark, row in batch]
            plan.table.model._default_manager.bulk_create(made)
            marks.update({mark: each.pk for (mark, _row), each in zip(batch, made, strict=True)})
            self.progress.advance(len(batch))
        for column in own:
            self._link_within(plan, column)

    def _instance(self, plan: LinkedPlan, columns: Sequence[Column], row: Row) -> models.Model:
        instance = plan.table.model()
        for column in columns:
            value = row[column.name]
            if value is None:
                continue
            if column.links_to:
                setattr(instance, f"{column.field}_id", self._behind(column.links_to, value))
            elif column.refers_to:
                setattr(instance, f"{column.field}_id", self._key(column.refers_to, value))
            else:
                setattr(instance, column.field, value)
        return instance

    def _link_within(self, plan: LinkedPlan, column: Column) -> None:
        """Rows that name an earlier row of their own table, once all of them are there."""
        linked = []
        for mark, row in plan.new.items():
            if row[column.name] is not None:
                instance = plan.table.model(pk=self._behind(plan.table.name, mark))
                key = self._behind(column.links_to, row[column.name])
                setattr(instance, f"{column.field}_id", key)
                linked.append(instance)
        if linked:
            plan.table.model._default_manager.bulk_update(linked, [column.field], batch_size=500)

    def _behind(self, table: str, mark: Any) -> int:
        """The key of the row with the mark."""
        if table in MADE_OF and table not in self._marks:
            self._marks[table] = {each: pk for pk, each in marks_in_database(table).items()}
        return self._marks[table][mark]

    def _key(self, table: str, code: str) -> int:
        if table not in self._codes:
            self._codes[table] = keys_of(TABLES[table])
        return self._codes[table][code]
