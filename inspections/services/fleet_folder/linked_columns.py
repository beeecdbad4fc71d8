"""What linked tables are made of: rows with marks, and columns that name other rows by them."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Any

from django.db import models

from inspections.services.fleet_folder.columns import Column, Keeping, Kind, Rule, Table
from inspections.services.fleet_folder.common_columns import (
    DEPOT,
    DOOR,
    MOMENT,
    NUMBER,
    TEXT,
    TRUCK,
    WHOLE,
    happened,
)

YES_NO = Kind.YES_NO
# Tables without a mark of their own: their rows are named by what they say.
MARKED = ("faults", "tasks_done")
LONG = 10_000


@dataclass(frozen=True)
class LinkedTable(Table):
    """A table whose rows name one another; the columns of `identity` make a row what it is."""

    identity: tuple[str, ...] = ()
    # A column that no two rows share, whatever else makes a row what it is.
    only_once: str = ""
    # The rows of the model that are the table's; the others come out of other tables.
    only: models.Q = field(default_factory=models.Q)
    # Its rows are written by the ledger, which numbers them and keeps the balance.
    is_booked: bool = False
    # How its rows are written: each after those that it names.
    order: tuple[str, ...] = ("pk",)

    @property
    def rows(self) -> models.QuerySet[Any, Any]:
        """The rows of the table, the first entered first."""
        return self.model._default_manager.filter(self.only).order_by(*self.order)

    @property
    def mark(self) -> Column:
        """The column of the row's own mark."""
        return self.columns[0]

    @property
    def shared_by_none(self) -> Column | None:
        """The column that no two rows share, where the table has one."""
        return self.by_name[self.only_once] if self.only_once else None

    @property
    def links(self) -> tuple[Column, ...]:
        """Columns that name a row of another table, or an earlier one of this."""
        return tuple(column for column in self.columns if column.links_to)

    @property
    def written(self) -> tuple[Column, ...]:
        """Columns that are kept in the table's own row."""
        return tuple(c for c in self.columns if c.lookup and c.lookup.count("__") <= 1)


def linked(
    name: str,
    model: type[models.Model],
    columns: tuple[Column, ...],
    identity: tuple[str, ...],
    *,
    local_to: str = "door",
    rules: tuple[Rule, ...] = (),
    only_once: str = "",
) -> LinkedTable:
    """A linked table; its first column is the mark of each row."""
    mark = Column("row", WHOLE, "", required=True)
    return LinkedTable(
        name,
        model,
        (mark, *columns),
        ("row",),
        Keeping.LINKED,
        local_to=local_to,
        rules=rules,
        identity=identity,
        only_once=only_once,
    )


def link(name: str, table: str, *, required: bool = False) -> Column:
    """A column that names a row of another table by its mark."""
    kind = TEXT if table in MARKED else WHOLE
    return Column(name, kind, name, links_to=table, required=required, max_length=80)


def text(name: str, length: int = 200, *, required: bool = False) -> Column:
    """A column of words."""
    return Column(name, TEXT, name, max_length=length, required=required)


def code(name: str, codes: tuple[str, ...], *, required: bool = False) -> Column:
    """A column of one of the codes."""
    return Column(name, TEXT, name, choices=codes, required=required)


def moment(name: str, *, required: bool = False) -> Column:
    """A column of a moment that has happened."""
    return replace(happened(name, name, MOMENT), required=required)


def person(name: str, *, required: bool = False) -> Column:
    """A column that names a person."""
    lookup = f"{name}__username"
    return Column(name, TEXT, lookup, refers_to="people", max_length=150, required=required)


def any_number(name: str) -> Column:
    """A column of a number that may be below zero."""
    return Column(name, NUMBER, name, least=-1_000_000, most=1_000_000)


def depot_of(parent: str) -> Column:
    """The depot of the row that this one belongs to, whose clock it goes by."""
    return replace(DEPOT, lookup=f"{parent}__depot__code")


def door_of(parent: str) -> Column:
    """The door of the row that this one belongs to: its clock, said again for whoever reads it."""
    return replace(DOOR, lookup=f"{parent}__door__serial")


WHEN_ENTERED = moment("entered_at", required=True)
NO_TRUCK, NO_DEPOT = replace(TRUCK, required=False), replace(DEPOT, required=False)
