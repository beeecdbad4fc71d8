"""What the tree is made of: fields, routes, nodes, verdicts, symptoms."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum

from inspections.tracing.predicates import Expression


def _(words: str) -> str:
    """Mark words for translation without Django: makemessages looks for the call only."""
    return words


class Kind(StrEnum):
    """How a node is answered."""

    YES_NO = "yes_no"
    MEASURED = "measured"
    AUTOMATIC = "automatic"


class Outcome(StrEnum):
    """What an answer says about the thing tested."""

    PASS = "pass"
    NEAR = "near"
    FAIL = "fail"
    CANNOT_TELL = "cannot_tell"


GOOD = (Outcome.PASS, Outcome.NEAR)


@dataclass(frozen=True)
class Field:
    """One value that a measured node asks for; `low` and `high` are shown beside its input."""

    name: str
    label: str
    kind: str = "number"
    unit: str = ""
    quantity: str = ""
    required: bool = True
    options: tuple[tuple[str, str], ...] = ()
    low: Expression = None
    high: Expression = None


@dataclass(frozen=True)
class Route:
    """Where an answer leads if `when` is true; a stop forbids powered tests from then on.

    An outcome of "cannot tell" means that the reading alone says nothing about the thing tested.
    """

    when: Expression
    goes_to: str
    outcome: Outcome
    is_stop: bool = False
    note: str = ""


@dataclass(frozen=True)
class Node:
    """A test. Yes is always the good answer; the first route that is true is taken.

    `if_unknown` is where "cannot tell" leads: the failing side. `groups` name the causes that the
    test belongs to, and whose repair makes its answer stale.
    """

    code: str
    question: str
    how: str
    routes: tuple[Route, ...]
    if_unknown: str
    minutes: float
    groups: tuple[str, ...]
    fields: tuple[Field, ...] = ()
    cautions: tuple[str, ...] = ()
    is_powered: bool = False
    is_automatic: bool = False
    unknown_is_stop: bool = False

    @property
    def kind(self) -> Kind:
        """How it is answered."""
        if self.is_automatic:
            return Kind.AUTOMATIC
        asks = any(each.required for each in self.fields)
        return Kind.MEASURED if asks else Kind.YES_NO


@dataclass(frozen=True)
class PartProposal:
    """A component that a verdict proposes, if `when` is true."""

    component: str
    when: Expression = True


@dataclass(frozen=True)
class Verdict:
    """Where a trace ends; `next_node` is asked once the repair is done, none closes the trace."""

    code: str
    name: str
    advice: str
    parts: tuple[PartProposal, ...]
    groups: tuple[str, ...]
    next_node: str | None
    cautions: tuple[str, ...] = ()


@dataclass(frozen=True)
class Symptom:
    """Where a driver's complaint enters; passing one node of the path leads to the next of it."""

    code: str
    path: tuple[str, ...]
    groups: tuple[str, ...]
    first: str = ""
    cautions: tuple[str, ...] = ()
    # No powered test before this node is answered, and has not stopped the trace.
    unpowered_until: str | None = None
    may_reorder: bool = True


@dataclass(frozen=True)
class Tree:
    """The whole tree, by code."""

    nodes: Mapping[str, Node]
    verdicts: Mapping[str, Verdict]
    symptoms: Mapping[str, Symptom]
    derived: Mapping[str, Expression] = field(default_factory=dict)


def passes(when: Expression, goes_to: str) -> Route:
    """A route of a test that is as it should be."""
    return Route(when, goes_to, Outcome.PASS)


def fails(when: Expression, goes_to: str) -> Route:
    """A route of a test that is not."""
    return Route(when, goes_to, Outcome.FAIL)


def stops(when: Expression, goes_to: str) -> Route:
    """A failing route after which nothing is powered."""
    return Route(when, goes_to, Outcome.FAIL, is_stop=True)


def near(when: Expression, goes_to: str, note: str) -> Route:
    """A route of a test that passes, close to its limit."""
    return Route(when, goes_to, Outcome.NEAR, note=note)


def says_nothing(when: Expression, goes_to: str) -> Route:
    """A route of a reading that needs another one first."""
    return Route(when, goes_to, Outcome.CANNOT_TELL)


def look(code: str, *, yes: str, no: str) -> tuple[Route, ...]:
    """The two routes of a plain yes/no node."""
    return (passes(("value", f"{code}.yes"), yes), fails(True, no))
