"""What is tested on SQLite holds on PostgreSQL: constraints, services, pages and figures."""

import os
import subprocess
import sys

import pytest

from tests.services.postgresql import Cluster
from tests.services.processes import ROOT
from tests.services.waiting import SLOWER

pytestmark = pytest.mark.postgres

# The kernel and what is proven of it know no database; what starts servers has its own tests.
FOLDERS = (
    "tests/test_constraints.py",
    "tests/fleetdoors",
    "tests/inspections",
    "tests/analytics",
    "tests/pages",
)
OPTIONS = tuple(f"--ignore=tests/analytics/{name}" for name in ("kernel", "synthetic", "proof"))
# Some four thousand tests in one process, beside the others.
MOST_SECONDS = 2_400
ALONE = "not (browser or postgres or redis or bench)"


def test_the_record_its_services_and_its_pages_hold_on_postgresql(cluster: Cluster) -> None:
    kept = {name: value for name, value in os.environ.items() if not name.startswith("PYTEST_")}
    done = subprocess.run(
        [
            *(sys.executable, "-m", "pytest", *FOLDERS, *OPTIONS),
            *("-m", ALONE, "-q", "-p", "no:cacheprovider"),
        ],
        cwd=ROOT,
        env=kept | {"FLEETDOORS_TEST_DATABASE_URL": cluster.url("postgres")},
        capture_output=True,
        text=True,
        timeout=MOST_SECONDS * SLOWER,
        check=False,
    )
    last = "\n".join(done.stdout.splitlines()[-60:])
    assert done.returncode == 0, f"{last}\n{done.stderr[-2000:]}"
    assert " passed" in last
