"""What a column of a fleet folder may hold, as data."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Any

from django.core.exceptions import ValidationError
from django.db import models
from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

# No counter, cycle count or quantity of a door comes near this; a longer number is a slip.
LARGEST_WHOLE = 999_999_999_999


class Kind(StrEnum):
    """Kinds of value."""

    TEXT = "text"
    WHOLE = "whole number"
    NUMBER = "number"
    MONEY = "amount"
    PRICE = "price of a piece"
    DATE = "date"
    MOMENT = "moment"
    YES_NO = "yes or no"
    SEVERAL = "several codes"
    FACTS = "named values"


class Keeping(StrEnum):
    """What a second import of a row does."""

    LAST_WORD = "the last word wins"
    FILL = "unknown values are filled, known ones stay"
    COUNT = "equal rows are counted"
    FIRST_WORD = "what is there stays"
    LINKED = "rows that are there stay; a row may name rows of other tables by their marks"
    OWN = "a rule of its own"


@dataclass(frozen=True)
class Column:
    """A column: where its value lives, and what it may be."""

    name: str
    kind: Kind
    # Path from the table's model to the value as the file writes it; empty = not stored there.
    lookup: str
    required: bool = False
    choices: tuple[str, ...] = ()
    refers_to: str = ""
    least: float = 0
    most: float = LARGEST_WHOLE
    max_length: int = 200
    has_happened: bool = False
    default: object = None
    validator: Callable[[str], None] | None = None
    # Another column, whose value names a new row that comes without one.
    stand_in: str = ""
    # Whether a difference here makes two rows different.
    identifies: bool = True
    # The table whose row is named by its mark: a number in a linked table, else what it says.
    links_to: str = ""

    @property
    def field(self) -> str:
        """The attribute of the model that holds the value."""
        return self.lookup.split("__")[0]


@dataclass(frozen=True)
class Rule:
    """A rule between the columns of one row; `holds` sees None where a value is unknown."""

    column: str
    words: str | Promise
    holds: Callable[[Mapping[str, Any]], bool]


@dataclass(frozen=True)
class Table:
    """A table: its model, its columns, what identifies a row, and how a second import is taken."""

    name: str
    model: type[models.Model]
    columns: tuple[Column, ...]
    key: tuple[str, ...]
    keeping: Keeping
    # The column whose depot decides the time zone of the table's moments.
    local_to: str = "door"
    # The column that says that a stay has ended.
    ending: str = ""
    rules: tuple[Rule, ...] = ()
    by_name: Mapping[str, Column] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "by_name", {each.name: each for each in self.columns})

    @property
    def stored(self) -> tuple[Column, ...]:
        """Columns whose value stands in the table's own row."""
        return tuple(c for c in self.columns if c.lookup and c.kind != Kind.SEVERAL)

    @property
    def several(self) -> tuple[Column, ...]:
        """Columns that name several rows of another table."""
        return tuple(c for c in self.columns if c.kind == Kind.SEVERAL)

    @property
    def is_registry(self) -> bool:
        """Whether other tables refer to its rows by one code."""
        by_code = (Keeping.LAST_WORD, Keeping.FIRST_WORD)
        return self.keeping in by_code and len(self.key) == 1


def in_order(first: str, last: str) -> Rule:
    """A rule that one column is not before another."""
    return Rule(
        last,
        _("%(last)s must not be before %(first)s") % {"last": last, "first": first},
        lambda row: row[first] is None or row[last] is None or row[first] <= row[last],
    )


def checked_by(validator: Callable[[str], None], value: str) -> str | None:
    """What a model's validator says against a value."""
    try:
        validator(value)
    except ValidationError as error:
        return " ".join(error.messages)
    return None
