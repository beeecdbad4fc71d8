"""Writes planned rows of registries, stays, events and stock; the caller holds the transaction."""

from __future__ import annotations

from collections import defaultdict
from datetime import datetime
from typing import Any

from django.db import models

from inspections.models import StockCount
from inspections.services.fleet_folder.columns import Column, Table
from inspections.services.fleet_folder.event_plan import EventPlan
from inspections.services.fleet_folder.existing import keys_of
from inspections.services.fleet_folder.keyed_plan import Change, KeyedPlan, Row
from inspections.services.fleet_folder.progress import Progress
from inspections.services.fleet_folder.stock_plan import FIGURES, StockPlan
from inspections.services.fleet_folder.tables import TABLES

BATCH = 2_000


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
        self._set_several(plan)

    def write_events(self, plan: EventPlan) -> None:
        """Add events; one that was corrected is linked to the row that corrects it."""
        made = self._add(plan.table, plan.new)
        successors: defaultdict[tuple[str, datetime], list[int]] = defaultdict(list)
        for index, row in enumerate(plan.new):
            successors[row["door"], row["entered_at"]].append(index)
        linked = []
        for index, row in enumerate(plan.new):
            later = successors.get((row["door"], row["corrected_at"]), [])
            following = next((each for each in later if each > index), None)
            if row["corrected_at"] is not None and following is not None:
                later.remove(following)
                made[following].corrects = made[index]  # type: ignore[attr-defined]
                linked.append(made[following])
        plan.table.model._default_manager.bulk_update(linked, ["corrects"], batch_size=500)

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
            batch_size=BATCH,
        )
        self.progress.advance(len(plan.new))

    def _add(self, table: Table, rows: list[Row]) -> list[models.Model]:
        """Add rows; one that refers to a new row of its own table is completed afterwards."""
        made: list[models.Model] = []
        own = [c for c in table.stored if c.refers_to == table.name]
        for start in range(0, len(rows), BATCH):
            batch = [self._instance(table, row, own) for row in rows[start : start + BATCH]]
            made.extend(table.model._default_manager.bulk_create(batch))
            self.progress.advance(len(batch))
        for column in own:
            self._keys.pop(table.name, None)
            for instance, row in zip(made, rows, strict=True):
                self._assign(instance, column, row[column.name])
            table.model._default_manager.bulk_update(made, [column.field], batch_size=500)
        return made

    def _instance(self, table: Table, row: Row, later: list[Column]) -> models.Model:
        instance = table.model()
        for column in table.stored:
            value = row[column.name]
            if value is None and column.stand_in:
                value = row[column.stand_in]
            if column not in later:
                self._assign(instance, column, value)
        return instance

    def _assign(self, instance: models.Model, column: Column, value: Any) -> None:
        if value is None:
            return
        if column.refers_to and "__" in column.lookup:
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
