"""Commands on a database that is new, and on one that an older version left behind."""

import subprocess
import sys

from tests.services.processes import ROOT, Installation


def run(installation: Installation, *words: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "manage.py", *words],
        cwd=ROOT,
        env=installation.environment,
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )


def test_a_new_database_gets_its_tables(installation: Installation) -> None:
    done = run(installation, "figures", "mcbf", "--format", "json")

    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout.startswith("[")


def test_an_older_database_is_refused_with_what_to_do(installation: Installation) -> None:
    run(installation, "migrate", "inspections", "zero")
    run(installation, "migrate", "fleetdoors", "0001")

    done = run(installation, "export_fleet", "nowhere")

    assert done.returncode == 1
    assert "python manage.py migrate" in done.stderr
    assert "Traceback" not in done.stderr
