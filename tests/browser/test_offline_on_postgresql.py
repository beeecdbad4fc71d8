"""What phones bring is taken on PostgreSQL as it is on SQLite: the same drill, once more."""

import os
import subprocess
import sys

import pytest

from tests.services.postgresql import Cluster
from tests.services.processes import ROOT

pytestmark = pytest.mark.postgres

DRILLS = (
    "tests/browser/test_offline.py::test_ten_readings_an_inspection_and_a_trace_outlive_the_browser",
    "tests/browser/test_offline_visit.py::test_a_visit_nobody_planned_is_lived_through_and_arrives_once",
)


def test_what_was_entered_without_a_signal_arrives_once_on_postgresql(cluster: Cluster) -> None:
    kept = {name: value for name, value in os.environ.items() if not name.startswith("PYTEST_")}
    done = subprocess.run(
        [sys.executable, "-m", "pytest", *DRILLS, "-q", "-p", "no:cacheprovider"],
        cwd=ROOT,
        env=kept | {"FLEETDOORS_TEST_DATABASE_URL": cluster.url("postgres")},
        capture_output=True,
        text=True,
        timeout=600,
        check=False,
    )
    last = "\n".join(done.stdout.splitlines()[-60:])
    assert done.returncode == 0, f"{last}\n{done.stderr[-2000:]}"
    assert f"{len(DRILLS)} passed" in last
