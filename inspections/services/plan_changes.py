"""What a plan does to the visits planned before: added, moved, other work, dropped, or nothing."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from typing import TypeVar

from inspections.models.plan_acceptance import PlanChange

Target = tuple[str, int]


@dataclass(frozen=True)
class PlannedVisit:
    """A planned visit: its door by id, its night, and its jobs as kind and id."""

    pk: int
    door: int
    night_on: date
    jobs: frozenset[Target]


@dataclass(frozen=True)
class WantedVisit:
    """A visit of a plan: the jobs to work on, and those done along with them."""

    door: int
    truck: int | None
    night_on: date
    jobs: frozenset[Target]
    along: frozenset[Target] = frozenset()


@dataclass(frozen=True)
class Change:
    """One change; both sides name the same door."""

    kind: PlanChange
    before: PlannedVisit | None
    after: WantedVisit | None

    @property
    def door(self) -> int:
        """The door that the change is about."""
        side = self.before or self.after
        assert side is not None  # a change has a side
        return side.door


Side = TypeVar("Side", PlannedVisit, WantedVisit)


def changes_between(planned: Iterable[PlannedVisit], wanted: Iterable[WantedVisit]) -> list[Change]:
    """Every change that leads from the planned visits to those wanted, door by door."""
    before, after = _by_door(planned), _by_door(wanted)
    return [
        change
        for door in sorted({*before, *after})
        for change in _of_door(before.get(door, []), after.get(door, []))
    ]


def is_same_work(planned: PlannedVisit, wanted: WantedVisit) -> bool:
    """Whether a planned visit holds what a plan wants, and nothing that it does not do."""
    return wanted.jobs <= planned.jobs <= wanted.jobs | wanted.along


def _by_door(visits: Iterable[Side]) -> dict[int, list[Side]]:
    found: dict[int, list[Side]] = {}
    for visit in visits:
        found.setdefault(visit.door, []).append(visit)
    return found


def _of_door(planned: Sequence[PlannedVisit], wanted: Sequence[WantedVisit]) -> list[Change]:
    """Visits of one night belong together; of the rest, the first to the first."""
    after = {visit.night_on: visit for visit in wanted}
    changes, moving = [], []
    for visit in planned:
        same = after.pop(visit.night_on, None)
        if same is None:
            moving.append(visit)
        elif not is_same_work(visit, same):
            changes.append(Change(PlanChange.REFILLED, visit, same))
    rest = sorted(after.values(), key=lambda visit: visit.night_on)
    for visit, place in zip(moving, rest, strict=False):
        changes.append(Change(PlanChange.MOVED, visit, place))
    changes += [Change(PlanChange.DROPPED, visit, None) for visit in moving[len(rest) :]]
    changes += [Change(PlanChange.ADDED, None, visit) for visit in rest[len(moving) :]]
    return changes
