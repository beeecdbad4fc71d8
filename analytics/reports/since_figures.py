"""Late tasks and run-outs as they stand, to tell later which of them are new."""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from django.db.models import Count, F, Q, Sum

from analytics.models import DueState, DueTask, PartOutlook
from analytics.models.due_task import DueTaskQuerySet
from analytics.reports.basis import Basis
from analytics.reports.digest import RUN_OUT_DAYS
from analytics.reports.standing import stands
from inspections.models import LastLook

# More late tasks are not remembered one by one: those whose window closed since are the new ones.
MOST_REMEMBERED = 5_000

Pair = tuple[int, int]


@dataclass(frozen=True)
class Figures:
    """Late tasks and shelves that run out.

    `pairs`: row by door and task of every late task, or None where there are too many to read;
    then `tally` is their number and a sum over their doors, as the database adds them up.
    """

    late: DueTaskQuerySet
    pairs: dict[Pair, int] | None
    tally: tuple[int, int]
    run_outs: list[PartOutlook]

    @property
    def stood(self) -> dict[str, Any]:
        """What a look remembers; `late` is None where there is too much to remember."""
        return {
            "late": None if self.pairs is None else sorted(list(each) for each in self.pairs),
            "run_outs": sorted([row.part_id, row.depot_id] for row in self.run_outs),
        }

    @property
    def mark(self) -> str:
        """A short mark of exactly these figures; of very many late tasks by their tally."""
        marked = self.stood | ({"tally": self.tally} if self.pairs is None else {})
        return hashlib.sha256(json.dumps(marked).encode()).hexdigest()[:16]

    def newly_late(self, look: LastLook | None, since: datetime, *, most: int) -> NewlyLate:
        """Late tasks that were not late at the last look: so many of them, and their number."""
        remembered = look.stood.get("late") if look else None
        if remembered is None:
            closed_since = Q(window_closes_on__isnull=True) | Q(window_closes_on__gte=since.date())
            return _first(self.late.filter(closed_since), most)
        known = {(door, task) for door, task in remembered}
        if self.pairs is not None:
            new = [pk for pair, pk in self.pairs.items() if pair not in known]
            return _first(DueTask.objects.filter(pk__in=new), most)
        return self._beyond(known, most)

    def new_run_outs(self, look: LastLook | None) -> list[PartOutlook]:
        """Shelves that were not about to run out at the last look."""
        known = {tuple(each) for each in look.stood.get("run_outs", ())} if look else set()
        return [row for row in self.run_outs if (row.part_id, row.depot_id) not in known]

    def _beyond(self, known: set[Pair], most: int) -> NewlyLate:
        """Of very many late tasks those that are not among a few known ones."""
        doors = {door for door, _task in known}
        of_them = self.late.filter(door__in=doors).values_list("door_id", "task_id", "pk")
        still = [pk for door, task, pk in of_them if (door, task) in known]
        return _first(self.late.exclude(pk__in=still), most, number=self.tally[0] - len(still))


@dataclass(frozen=True)
class NewlyLate:
    """The soonest of the newly late tasks, with their links, and how many there are in all."""

    first: list[DueTask]
    number: int


def figures_of(basis: Basis, depot_ids: tuple[int, ...] | None) -> Figures:
    """The figures as they stand; reads so many late tasks at most; queries up to three times."""
    late = DueTask.objects.filter(generation=basis.run).at_depots(depot_ids)
    late = late.filter(stands(DueState.LATE, basis))
    read = list(late.order_by().values_list("door_id", "task_id", "pk")[: MOST_REMEMBERED + 1])
    is_few = len(read) <= MOST_REMEMBERED
    until = basis.today + timedelta(days=RUN_OUT_DAYS)
    shelves = PartOutlook.objects.filter(generation=basis.run, run_out_on__lte=until)
    return Figures(
        late=late,
        pairs={(door, task): pk for door, task, pk in read} if is_few else None,
        tally=(len(read), 0) if is_few else _tally(late),
        run_outs=list(shelves.at_depots(depot_ids).to_order().with_links().soonest_out_first()),
    )


def _tally(late: DueTaskQuerySet) -> tuple[int, int]:
    """How many, and a sum that another set of doors hardly has too; the index alone is read."""
    found = late.aggregate(
        number=Count("pk"), doors=Sum(F("door_id") * (F("door_id") % 9_973 + 1), default=0)
    )
    return found["number"], int(found["doors"])


def _first(rows: DueTaskQuerySet, most: int, *, number: int | None = None) -> NewlyLate:
    first = list(rows.with_links().soonest_first()[:most])
    if number is None:
        number = rows.count() if len(first) == most else len(first)
    return NewlyLate(first, number)
