"""A group of tests that cannot run is told, and is a failure where none may be left out."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

from tests.services.processes import ROOT

# The real rules, over a browser that is not there.
CONFTEST = """
from tests import conftest as ours
from tests.conftest import *

ours.WHY_NOT["browser"] = lambda: "no Chromium is installed"
"""
TESTS = """
import pytest

@pytest.mark.browser
def test_with_a_browser():
    pass

def test_without():
    pass
"""


@pytest.fixture
def project(tmp_path: Path) -> Path:
    """A project of two tests, one of which needs a browser."""
    (tmp_path / "conftest.py").write_text(CONFTEST)
    (tmp_path / "test_two.py").write_text(TESTS)
    return tmp_path


def run(project: Path, *arguments: str, **environment: str) -> tuple[int, list[str]]:
    """The exit status and the lines of a run of the project's tests."""
    kept = {name: value for name, value in os.environ.items() if name not in ("CI", FLAG)}
    done = subprocess.run(
        [
            *(sys.executable, "-m", "pytest", str(project), "-c", str(ROOT / "pyproject.toml")),
            *("--rootdir", str(project), "-p", "no:cacheprovider", *arguments),
        ],
        cwd=ROOT,
        env=kept | environment,
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )
    return done.returncode, (done.stdout + done.stderr).splitlines()


FLAG = "FLEETDOORS_ALL_GROUPS"


def test_on_a_persons_machine_a_missing_group_is_told(project: Path) -> None:
    status, lines = run(project, "--groups", "browser")
    assert status == 0
    assert "Groups: browser 0" in lines
    assert "Left out: browser" in lines
    assert "1 passed, 1 skipped" in lines[-1]


@pytest.mark.parametrize("environment", [{"CI": "true"}, {FLAG: "1"}], ids=str)
def test_where_no_group_may_miss_it_fails(project: Path, environment: dict[str, str]) -> None:
    status, lines = run(project, "--groups", "browser", **environment)
    assert status == 1
    assert "1 passed, 1 error" in lines[-1]
    assert any("The group browser must not be left out" in line for line in lines)


def test_a_group_without_a_test_fails_too(project: Path) -> None:
    status, lines = run(project, "--groups", "redis", "-k", "without", CI="true")
    assert status == 1
    assert "Left out: redis" in lines


def test_a_skipped_test_fails_too(project: Path) -> None:
    (project / "test_two.py").write_text("import pytest\n@pytest.mark.skip\ndef test_a(): ...\n")
    (project / "test_three.py").write_text("def test_b(): ...\n")
    status, lines = run(project, "--groups", "browser", CI="true")
    assert status == 1
    assert "Left out: test_two.py::test_a" in lines


def test_the_count_holds_over_two_workers(project: Path) -> None:
    (project / "conftest.py").write_text("from tests.conftest import *\n")
    _, lines = run(project, "--groups", "browser", "-n", "2")
    assert "Groups: browser 1" in lines


def test_an_unknown_group_is_refused(project: Path) -> None:
    status, lines = run(project, "--groups", "brwoser")
    assert status == pytest.ExitCode.USAGE_ERROR
    assert any("--groups knows browser, postgres, redis, bench, not brwoser." in s for s in lines)
