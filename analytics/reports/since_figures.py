"""Late tasks and run-outs as they stand, to tell later which of them are new."""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

from analytics.models import DueState, DueTask, PartOutlook
from analytics.reports.basis import Basis
from analytics.reports.digest import RUN_OUT_DAYS
from analytics.reports.standing import stands
from inspections.models import LastLook

# More late tasks are not remembered one by one: those whose window closed since are the new ones.
MOST_REMEMBERED = 5_000


@dataclass(frozen=True)
class Figures:
    """Late tasks as (row, door, task, day on which the window closed), and shelves that run out."""

    late: list[tuple[int, int, int, date | None]]
    run_outs: list[PartOutlook]

    @property
    def stood(self) -> dict[str, Any]:
        """What a look remembers; `late` is None where there is too much to remember."""
        late = sorted([door, task] for _pk, door, task, _day in self.late)
        return {
            "late": late if len(late) <= MOST_REMEMBERED else None,
            "run_outs": sorted([row.part_id, row.depot_id] for row in self.run_outs),
        }

    @property
    def mark(self) -> str:
        """A short mark of exactly these figures."""
        return hashlib.sha256(json.dumps(self.stood).encode()).hexdigest()[:16]

    def newly_late(self, look: LastLook | None, since: datetime) -> list[int]:
        """Rows of late tasks that were not late at the last look."""
        remembered = look.stood.get("late") if look else None
        if remembered is None:
            begun = since.date()
            return [pk for pk, _door, _task, day in self.late if day is None or day >= begun]
        known = {(door, task) for door, task in remembered}
        return [pk for pk, door, task, _day in self.late if (door, task) not in known]

    def new_run_outs(self, look: LastLook | None) -> list[PartOutlook]:
        """Shelves that were not about to run out at the last look."""
        known = {tuple(each) for each in look.stood.get("run_outs", ())} if look else set()
        return [row for row in self.run_outs if (row.part_id, row.depot_id) not in known]


def figures_of(basis: Basis, depot_ids: tuple[int, ...] | None) -> Figures:
    """The figures as they stand; queries twice."""
    late = DueTask.objects.filter(generation=basis.run).at_depots(depot_ids)
    rows = late.filter(stands(DueState.LATE, basis)).soonest_first()
    until = basis.today + timedelta(days=RUN_OUT_DAYS)
    shelves = PartOutlook.objects.filter(generation=basis.run, run_out_on__lte=until)
    return Figures(
        late=list(rows.values_list("pk", "door_id", "task_id", "window_closes_on")),
        run_outs=list(shelves.at_depots(depot_ids).to_order().with_links().soonest_out_first()),
    )
