"""The main job on a real PostgreSQL: a made fleet gives the same figures there as on SQLite."""

import json
import math
from pathlib import Path

import pytest

from tests.services.postgresql import Cluster
from tests.services.processes import Installation

pytestmark = pytest.mark.postgres

# The day after the made record ends, so that the clock has no say.
AS_OF = ("--as-of", "2026-06-27")
FIGURES = (
    ("mcbf", "--by", "depot"),
    ("mcbf", "--by", "component"),
    ("usage",),
    ("due", "--within", "30"),
    ("life",),
    ("suspects",),
    ("demand", "--horizon", "90"),
)


@pytest.fixture
def fleet(installation: Installation, tmp_path: Path) -> Path:
    """A made fleet of twenty-four doors and a year."""
    folder = tmp_path / "fleet"
    installation.do("make_fleet", str(folder), "--doors", "24", "--days", "365", "--seed", "7")
    return folder


def figures_of(installation: Installation, fleet: Path) -> dict[str, list[dict[str, object]]]:
    """Every figure of a fleet that was brought into an empty database."""
    installation.do("migrate", "--verbosity", "0")
    installation.do("import_fleet", str(fleet))
    installation.do("recompute", *AS_OF)
    return {
        " ".join(figure): json.loads(
            installation.do("figures", *figure, *AS_OF, "--format", "json")
        )
        for figure in FIGURES
    }


def same(ours: object, theirs: object) -> bool:
    """Whether two values agree: numbers to the ninth digit, everything else to the letter."""
    if isinstance(ours, float) and isinstance(theirs, int | float):
        return math.isclose(ours, theirs, rel_tol=1e-9, abs_tol=1e-12)
    return ours == theirs


def test_a_fleet_gives_the_same_figures_on_both_databases(
    cluster: Cluster, installation: Installation, fleet: Path, tmp_path: Path
) -> None:
    (tmp_path / "other").mkdir()
    on_postgresql = Installation(
        tmp_path / "other", {"DATABASE_URL": cluster.new_database("same_figures")}
    )
    here, there = figures_of(installation, fleet), figures_of(on_postgresql, fleet)
    assert here["usage"], "the fleet has no doors"
    assert here["mcbf --by depot"], "the fleet has no depots"
    for name, rows in here.items():
        assert len(rows) == len(there[name]), name
        apart = [
            (key, row[key], other[key])
            for row, other in zip(rows, there[name], strict=True)
            for key in row
            if not same(row[key], other[key])
        ]
        assert apart == [], name
