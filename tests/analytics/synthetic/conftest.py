"""Made fleets, small enough to look at row by row in plain Python."""

import csv
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import pytest

from analytics.synthetic.fleet import FleetPlan
from analytics.synthetic.folder import write_fleet

Row = dict[str, str]


@dataclass(frozen=True)
class MadeFleet:
    """A fleet folder read back with the standard library alone."""

    folder: Path
    plan: FleetPlan

    def rows(self, table: str) -> list[Row]:
        path = self.folder / f"{table}.csv"
        if not path.exists():
            return []
        with path.open(encoding="utf-8", newline="") as file:
            return list(csv.DictReader(file))


@pytest.fixture(scope="session")
def make_fleet(tmp_path_factory: pytest.TempPathFactory) -> Callable[[FleetPlan], MadeFleet]:
    """Make a fleet once for each plan."""
    made: dict[FleetPlan, MadeFleet] = {}

    def make(plan: FleetPlan) -> MadeFleet:
        if plan not in made:
            folder = tmp_path_factory.mktemp("fleet") / "folder"
            write_fleet(folder, plan)
            made[plan] = MadeFleet(folder, plan)
        return made[plan]

    return make


@pytest.fixture(scope="session")
def demo_fleet(make_fleet: Callable[[FleetPlan], MadeFleet]) -> MadeFleet:
    return make_fleet(FleetPlan(240, 730, 5, "demo", readings_per_door=36))
