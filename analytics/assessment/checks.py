"""Which checks look at a component, what they found before it failed, and what they missed."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analytics.assessment.exposure import Exposure
from analytics.datasets.columns import Flags, Floats, Ints
from analytics.datasets.fleet import Fleet
from analytics.kernel.delay_fit import CheckHistory, LikelyDelays, likely_delays
from analytics.kernel.lifetimes import NotEstimableError

# What each task looks at, by its description; the full inspection contains them all.
LOOKS_AT = {
    "REV": ("switch", "ajar_lamp"),
    "LFT": ("lift_cable", "spring"),
    "COI": ("coil_cable", "slider"),
    "REL": ("manual_release",),
    "BAL": ("spring",),
    "SEN": ("open_sensor", "closed_sensor"),
    "FAS": ("track", "turnbuckle"),
    "SEA": ("bottom_seal", "panel"),
    "ELE": ("supply_feed", "converter", "control_board", "motor", "connector"),
    "RBT": ("remote_battery",),
    "LUB": ("roller", "hinge"),
}
FEWEST_OF_EACH = 5
# Work of one visit is noted at slightly different cycles (rule of this program).
ONE_VISIT = 100.0
_MOST_CYCLES = 1e8


@dataclass(frozen=True)
class ChecksFound:
    """Checks of one component; `delays` None where there is too little to weigh."""

    component_id: int
    checks: int
    found: int
    failed: int
    usual_cycles: float | None
    delays: LikelyDelays | None


def tasks_looking_at(component: str) -> tuple[str, ...]:
    """Codes of the tasks that look at a component."""
    return tuple(task for task, seen in LOOKS_AT.items() if component in seen)


def assess_checks(fleet: Fleet, exposure: Exposure) -> tuple[ChecksFound, ...]:
    """Every component that some task looks at and that failed or was found at a check."""
    found = []
    for row, code in enumerate(fleet.components.codes):
        component_id = int(fleet.components.ids[row])
        own = fleet.faults.component_id == component_id
        tasks = tasks_looking_at(code)
        if tasks and own.any():
            found.append(_of_component(fleet, exposure, component_id, tasks))
    return tuple(found)


def _of_component(
    fleet: Fleet, exposure: Exposure, component_id: int, tasks: tuple[str, ...]
) -> ChecksFound:
    faults = fleet.faults
    own = faults.component_id == component_id
    seen = np.flatnonzero(own & ~faults.is_failure & faults.at_check)
    failed = np.flatnonzero(own & faults.is_failure)
    checks = _checks(fleet, exposure, tasks, seen)
    history = CheckHistory(
        checks.gap_cycles,
        checks.found[checks.follows],
        checks.tails(exposure.end_cycles),
        checks.since(
            faults.door[failed],
            # What a check found failed had failed since the check before.
            exposure.fault_cycles[failed] - np.where(faults.at_check[failed], ONE_VISIT, 0.0),
        ),
    )
    found, failures = int(history.found.sum()), len(history.failed_after_cycles)
    gaps = history.gap_cycles
    return ChecksFound(
        component_id=component_id,
        checks=len(checks.door),
        found=found,
        failed=failures,
        usual_cycles=float(np.median(gaps)) if len(gaps) else None,
        delays=_likely(history) if min(found, failures) >= FEWEST_OF_EACH else None,
    )


def _likely(history: CheckHistory) -> LikelyDelays | None:
    try:
        return likely_delays(history)
    except NotEstimableError:
        return None


@dataclass(frozen=True)
class _Checks:
    """Checks by door and cycles, (c,), and how many defects were found at each."""

    door: Ints
    cycles: Floats
    found: Floats

    @property
    def follows(self) -> Flags:
        """Which come after another one of the same door."""
        return np.append(False, np.diff(self.door) == 0)[: len(self.door)]

    @property
    def gap_cycles(self) -> Floats:
        """Cycles since the check before, of those that follow one."""
        return np.diff(self.cycles, prepend=0.0)[self.follows]

    def tails(self, end_cycles: Floats) -> Floats:
        """Cycles run since the last check of each door that had one."""
        last = np.flatnonzero(~np.append(self.follows[1:], False)[: len(self.door)])
        return np.maximum(end_cycles[self.door[last]] - self.cycles[last], 0.0)

    def since(self, door: Ints, cycles: Floats) -> Floats:
        """Cycles from the check before; what came before every check of its door is left out."""
        row = np.searchsorted(_key(self.door, self.cycles), _key(door, cycles), side="right") - 1
        known = np.flatnonzero(row >= 0)
        known = known[self.door[row[known]] == door[known]]
        return cycles[known] - self.cycles[row[known]]


def _checks(fleet: Fleet, exposure: Exposure, tasks: tuple[str, ...], seen: Ints) -> _Checks:
    """Every look at the component; tasks and findings of one visit are one check."""
    wanted = fleet.tasks.contains[:, np.isin(fleet.tasks.codes, tasks)].any(axis=1)
    done = np.flatnonzero(np.isin(fleet.tasks_done.task_id, fleet.tasks.ids[wanted]))
    door = np.concatenate((fleet.tasks_done.door[done], fleet.faults.door[seen]))
    cycles = np.concatenate((exposure.task_cycles[done], exposure.fault_cycles[seen]))
    is_found = np.repeat((0.0, 1.0), (len(done), len(seen)))
    order = np.argsort(_key(door, cycles), kind="stable")
    door, cycles, is_found = door[order], cycles[order], is_found[order]
    begins = np.append(True, (np.diff(door) != 0) | (np.diff(cycles) > ONE_VISIT))[: len(door)]
    visit = np.cumsum(begins) - 1
    return _Checks(
        door[begins],
        cycles[begins],
        np.bincount(visit, weights=is_found, minlength=int(begins.sum())).astype(float),
    )


def _key(door: Ints, cycles: Floats) -> Floats:
    """A number that orders by door, then by cycles."""
    return np.asarray(door * _MOST_CYCLES + cycles)
