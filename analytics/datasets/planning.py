"""What a plan of visits needs beside due dates: minutes, hours, trained people, work asked for."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analytics.datasets.columns import (
    EpochDays,
    EpochSeconds,
    Flags,
    Floats,
    Ints,
    fetch_table,
)
from analytics.datasets.depots import Depots
from analytics.datasets.doors import DoorRows
from analytics.datasets.findings import Finding, fetch_findings
from analytics.datasets.week_hours import (
    DepotHours,
    Presence,
    fetch_depot_hours,
    fetch_presence,
)
from fleetdoors.models import MaintenanceTask, Performer
from fleetdoors.models.user import User
from inspections.models import SpringAuthorisation


@dataclass(frozen=True)
class TaskFacts:
    """Tasks by code, as `Tasks`: minutes, and who may do them."""

    minutes: Floats
    needs_trained: Flags
    by_driver: Flags


@dataclass(frozen=True)
class TrainedPeople:
    """Words for spring work, one row each: days of validity and the depots that it holds for.

    Where their week is on record, that says where they are; else someone named for several depots
    is at one of them a night, in turn.
    """

    person_id: Ints
    from_day: Ints
    until_day: Ints
    withdrawn: Floats
    depots: tuple[tuple[int, ...], ...]
    presence: Presence

    def minutes_at(self, depots: Depots, depot: int, day: int, *, longest: float) -> float:
        """Minutes of theirs at the depot that night, by what was known as of the moment.

        `longest` is what a person is taken to work whose week is not on record.
        """
        known = self.from_day < depots.limit_day[depot]
        valid = known & ~(self.withdrawn < depots.moment[depot])
        valid &= (self.from_day <= day) & (self.until_day >= day)
        minutes = 0.0
        for person in np.unique(self.person_id[valid]).tolist():
            if self.presence.known(person):
                minutes += self.presence.minutes_at(person, int(depots.ids[depot]), day)
            elif self._is_in_turn(np.flatnonzero(valid & (self.person_id == person)), depot, day):
                minutes += longest
        return minutes

    def _is_in_turn(self, rows: Ints, depot: int, day: int) -> bool:
        return any(self.depots[k][day % len(self.depots[k])] == depot for k in rows.tolist())


@dataclass(frozen=True)
class Planning:
    """Facts for plans of every depot; `hours` by depot id."""

    tasks: TaskFacts
    hours: dict[int, DepotHours]
    trained: TrainedPeople
    findings: tuple[Finding, ...]


def fetch_planning(doors: DoorRows) -> Planning:
    """Everything a plan needs beside due dates; runs fourteen queries."""
    return Planning(
        tasks=fetch_task_facts(),
        hours=fetch_depot_hours(),
        trained=fetch_trained(doors.depots),
        findings=fetch_findings(dict(zip(doors.ids.tolist(), doors.moment.tolist(), strict=True))),
    )


def fetch_task_facts() -> TaskFacts:
    rows = list(MaintenanceTask.objects.order_by("code").values_list("minutes", "performer"))
    performer = np.array([row[1] for row in rows], dtype=str)
    return TaskFacts(
        minutes=np.array([row[0] for row in rows], dtype=float),
        needs_trained=performer == Performer.SPRING_TRAINED,
        by_driver=performer == Performer.DRIVER,
    )


def fetch_trained(depots: Depots) -> TrainedPeople:
    """Words in force now or once; a person who sees every depot may be sent to every one."""
    rows = fetch_table(
        SpringAuthorisation.objects.filter(person__is_active=True),
        {
            "person": ("person_id", np.int64),
            "from": (EpochDays("from_on"), np.int64),
            "until": (EpochDays("until_on"), np.int64),
            "withdrawn": (EpochSeconds("withdrawn_at"), np.float64),
        },
    )
    named: dict[int, list[int]] = {}
    row_of = dict(zip(depots.ids.tolist(), range(len(depots)), strict=True))
    pairs = User.depots.through.objects.order_by("depot__code").values_list("user_id", "depot_id")
    for person, depot in pairs:
        named.setdefault(person, []).append(row_of[depot])
    everywhere = tuple(range(len(depots)))
    return TrainedPeople(
        rows["person"],
        rows["from"],
        rows["until"],
        rows["withdrawn"],
        tuple(tuple(named.get(each, ())) or everywhere for each in rows["person"].tolist()),
        fetch_presence(),
    )
