"""A backup taken under load and brought into the other database; a disk that fills up."""

from __future__ import annotations

import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from tests.services.drill_fleet import figures_of, write_drill_fleet
from tests.services.postgresql import Cluster
from tests.services.processes import ROOT, Installation, free_port, running
from tests.services.test_same_figures import same
from tests.services.waiting import wait_until

# Each step writes a reading of two doors in one transaction: a backup holds both or none.
WRITER = """
import pathlib
from django.db import transaction
from django.utils import timezone
from fleetdoors.models import DoorUnit
from fleetdoors.services.recomputation import doors_changed
from inspections.models import CounterReading
folder = pathlib.Path({folder!r})
doors = list(DoorUnit.objects.order_by("serial")[:2])
step = 0
while not (folder / "stop").exists():
    step += 1
    with transaction.atomic():
        for door in doors:
            CounterReading.objects.create(
                door=door, read_at=timezone.now(), counter_value=20_000 + step,
                read_by=f"step {{step}}", source="hand", status="accepted",
                entered_at=timezone.now(),
            )
        doors_changed([door.pk for door in doors])
    with (folder / "journal").open("a") as journal:
        journal.write(f"{{step}}\\n")
"""
# What the source held at the moment of the backup: its readings up to that step.
UNDO = """
from inspections.models import CounterReading
later = [row.pk for row in CounterReading.objects.filter(read_by__startswith="step ")
         if int(row.read_by.split()[1]) > {step}]
CounterReading.objects.filter(pk__in=later).delete()
"""
STEPS = """
from inspections.models import CounterReading
found = [int(by.split()[1]) for by in CounterReading.objects.filter(
    read_by__startswith="step ").values_list("read_by", flat=True)]
print("STEPS", max(found, default=0), len(found))
"""


def steps_written(folder: Path) -> int:
    journal = folder / "journal"
    return len(journal.read_text().splitlines()) if journal.exists() else 0


def shell(installation: Installation, code: str) -> str:
    return installation.do("shell", "--no-imports", "-c", code)


@pytest.mark.postgres
@pytest.mark.parametrize("source_is", ["sqlite", "postgresql"])
def test_a_backup_under_load_gives_the_same_figures_in_the_other_database(
    cluster: Cluster, tmp_path: Path, source_is: str
) -> None:
    (tmp_path / "a").mkdir()
    (tmp_path / "b").mkdir()
    url = {"DATABASE_URL": cluster.new_database(f"backup_{free_port()}")}
    source = Installation(tmp_path / "a", url if source_is == "postgresql" else {})
    target = Installation(tmp_path / "b", {} if source_is == "postgresql" else url)
    source.do("import_fleet", str(write_drill_fleet(tmp_path / "fleet")))
    command = [sys.executable, "manage.py", "shell", "--no-imports", "-c"]
    file = tmp_path / "fleet.zip"
    with running(
        [*command, WRITER.format(folder=str(tmp_path))],
        log=tmp_path / "writer.log",
        environment=source.environment,
    ):
        before = wait_until(
            lambda: steps_written(tmp_path), what="the writer's first step", seconds=120
        )
        source.do("backup", str(file))
        after = steps_written(tmp_path)
        (tmp_path / "stop").touch()
    assert after > before, "nobody had to stop writing"
    target.do("restore", str(file))
    [line] = [line for line in shell(target, STEPS).splitlines() if line.startswith("STEPS")]
    last, rows = map(int, line.split()[1:])
    assert before <= last <= after + 1, "the state of a moment while the backup ran"
    assert rows == 2 * last, "no step is there by half"
    shell(source, UNDO.format(step=last))
    ours, theirs = figures_of(source), figures_of(target)
    assert ours["usage"]
    for name, expected in ours.items():
        assert len(expected) == len(theirs[name]), name
        for row, other in zip(expected, theirs[name], strict=True):
            assert all(same(row[key], other[key]) for key in row), (name, row, other)


SMALL_DISK = """
set -e
mount -t tmpfs -o size="$4" tmpfs "$1"
cp "$2" "$1/fleet.zip"
status=0
"$3" manage.py backup "$1/fleet.zip" || status=$?
cmp "$1/fleet.zip" "$2"
echo "status $status, left: $(ls -A "$1" | wc -l)"
"""


def with_own_mounts() -> list[str]:
    """How this account gets mounts of its own."""
    unshare = shutil.which("unshare") or "unshare"
    for options in (["-m"], ["-r", "-m"]):
        if (
            subprocess.run([unshare, *options, "true"], check=False, capture_output=True).returncode
            == 0
        ):
            return [unshare, *options]
    raise OSError("This account may not have mounts of its own.")


def test_a_full_disk_leaves_the_older_backup_and_says_so(
    installation: Installation, tmp_path: Path
) -> None:
    older, disk = tmp_path / "older.zip", tmp_path / "disk"
    disk.mkdir()
    installation.do("import_fleet", str(write_drill_fleet(tmp_path / "fleet")))
    installation.do("backup", str(older))
    # Room for the older one and half of another.
    room = str(older.stat().st_size * 3 // 2 // 4_096 * 4_096)
    # Incompressible, so that the next one does not fit beside it.
    shell(
        installation,
        "import secrets; from inspections.models import CounterReading as Row\n"
        "for pk in Row.objects.values_list('pk', flat=True):\n"
        "    Row.objects.filter(pk=pk).update(reason=secrets.token_hex(90))",
    )
    done = subprocess.run(
        [
            *with_own_mounts(),
            "sh",
            "-c",
            SMALL_DISK,
            "sh",
            str(disk),
            str(older),
            sys.executable,
            room,
        ],
        cwd=ROOT,
        env=installation.environment,
        capture_output=True,
        text=True,
        check=False,
    )
    assert "No space left on device" in done.stderr
    assert "older one, as it was" in done.stderr
    assert "Traceback" not in done.stderr
    assert "Exception ignored" not in done.stderr
    assert done.stdout.splitlines()[-1] == "status 1, left: 1", done.stderr
