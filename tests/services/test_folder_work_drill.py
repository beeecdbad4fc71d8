"""A folder brought in and written out by workers, and a worker killed in the middle of it."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from tests.services.drill_fleet import DrillDatabase, later_readings, write_drill_fleet
from tests.services.postgresql import Cluster
from tests.services.processes import Installation, free_port, kill_with_children
from tests.services.redis_server import redis_at, worker_process
from tests.services.waiting import wait_until

pytestmark = [pytest.mark.postgres, pytest.mark.redis]
PATIENCE = 180
# What the page does with an upload, or for an export, without the page.
ASK = """
import json
from pathlib import Path
from django.core.files.uploadedfile import SimpleUploadedFile
from django.utils import timezone
from inspections.services.fleet_folder.beside import Work
from inspections.services.fleet_folder.uploads import folder_of, keep_room, keep_upload
from inspections.tasks import ask_for_folder_work
now = timezone.now()
paths = sorted(Path({folder!r}).glob("*.csv")) if {folder!r} else []
files = [SimpleUploadedFile(path.name, path.read_bytes()) for path in paths]
token = keep_upload(files=files, owner_id=1, now=now) if files else keep_room(owner_id=1, now=now)
ask_for_folder_work(token, Work({work!r}), now=now)
print("ASKED", token)
"""
ASK_AGAIN = """
from django.utils import timezone
from inspections.services.fleet_folder.beside import Work
from inspections.tasks import ask_for_folder_work
ask_for_folder_work({token!r}, Work.IMPORT, now=timezone.now())
"""


@pytest.fixture
def empty(cluster: Cluster, tmp_path: Path) -> Installation:
    url = cluster.new_database(f"folders_{free_port()}")
    port = free_port()
    served = Installation(
        tmp_path / "data",
        {"DATABASE_URL": url, "REDIS_URL": f"redis://127.0.0.1:{port}/0"},
    )
    served.folder.mkdir()
    served.do("migrate", "--verbosity", "0")
    return served


def port_of(installation: Installation) -> int:
    return int(installation.settings["REDIS_URL"].rpartition(":")[2].partition("/")[0])


def ask(installation: Installation, work: str, folder: Path | None = None) -> Path:
    """Ask for the work; returns the folder in which it stands."""
    code = ASK.format(folder=str(folder) if folder else "", work=work)
    said = installation.do("shell", "--no-imports", "-c", code)
    [line] = [line for line in said.splitlines() if line.startswith("ASKED")]
    return installation.folder / "uploads" / "imports" / line.split()[1]


def standing(kept: Path, work: str) -> dict[str, Any]:
    found: dict[str, Any] = json.loads((kept / f"{work}.json").read_text())
    return found


def wait_for_end(kept: Path, work: str) -> dict[str, Any]:
    wait_until(
        lambda: standing(kept, work)["ended_at"] is not None,
        what=f"the {work} to end",
        seconds=PATIENCE,
    )
    return standing(kept, work)


def test_a_worker_checks_brings_in_and_writes_out(
    cluster: Cluster, empty: Installation, tmp_path: Path
) -> None:
    database, folder = DrillDatabase(cluster, empty), write_drill_fleet(tmp_path / "fleet")
    with redis_at(port_of(empty), tmp_path), worker_process(empty):
        checked = wait_for_end(ask(empty, "check", folder), "check")
        assert not checked["failed"]
        assert database.record()["inspections_counterreading"] == 0
        brought = wait_for_end(ask(empty, "import", folder), "import")
        assert brought["counts"] == checked["counts"]
        assert database.record()["inspections_counterreading"] == 12 * 39
        kept = ask(empty, "export")
        assert not wait_for_end(kept, "export")["failed"]
    said = empty.do("import_fleet", str(kept / "fleet.zip"), "--check", "--format", "json")
    tables = json.loads(said[said.index("{") :])["tables"]
    assert max(row["read"] for row in tables) == 12 * 39
    assert all(row["new"] == row["changed"] == row["corrected"] == 0 for row in tables)


def test_a_worker_killed_in_mid_import(
    cluster: Cluster, empty: Installation, tmp_path: Path
) -> None:
    database = DrillDatabase(cluster, empty)
    empty.do("import_fleet", str(write_drill_fleet(tmp_path / "fleet")))
    before = database.record()
    later = later_readings(tmp_path / "later")
    with redis_at(port_of(empty), tmp_path):
        with worker_process(empty, "first") as (_caller, process):
            with database.nobody_writes("inspections_counterreading") as connection:
                kept = ask(empty, "import", later)
                database.wait_for_waiting(connection)
                assert standing(kept, "import")["label"] == "Writing"
                kill_with_children(process)
            assert database.record() == before, "nothing of it is there by half"
        # Silent for an hour: the page need not wait in a test.
        hour_ago = standing(kept, "import")
        hour_ago = hour_ago | {"asked_at": hour_ago["asked_at"] - 3_600, "heard_at": 0.0}
        (kept / "import.json").write_text(json.dumps(hour_ago))
        with worker_process(empty, "second"):
            code = ASK_AGAIN.format(token=kept.name)
            empty.do("shell", "--no-imports", "-c", code)
            assert not wait_for_end(kept, "import")["failed"]
    assert database.record()["inspections_counterreading"] == 12 * 40
