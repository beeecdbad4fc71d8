"""A newcomer's two commands, what CI runs, and what no file of ours may hold."""

import re
import subprocess
import tomllib
from urllib.parse import urlsplit

import pytest

from tests.services import debian_packages
from tests.source import ROOT, tracked_files

PUBLIC_HOSTS = {"pypi.org", "files.pythonhosted.org"}
TOP_LEVEL = {
    ".ci",
    ".editorconfig",
    ".env.example",
    ".gitignore",
    ".pre-commit-config.yaml",
    ".python-version",
    "DEVELOPERS.md",
    "LICENSE",
    "Makefile",
    "README.md",
    "analytics",
    "fixtures",
    "fleetdoors",
    "inspections",
    "manage.py",
    "pyproject.toml",
    "templates",
    "tests",
    "uv.lock",
}
# Built from halves, so that this file does not hold them itself.
NOT_OURS = re.compile(
    "|".join(
        (
            "/wo" + "rk/",
            r"\bsha" + "red/",
            r"\b(?:ho" + "use|tra" + "de|meth" + "ods|che" + "cks|form" + "ats|lo" + "ok|sta"
            "ck|defini" + r"tions)\.md\b",
            r"\bthe bri" + "ef\\b",
            r"\biss" + r"ue #?\d",
            r"\bseed doc" + "ument",
            r"\bpractitio" + "ner",
            r"\bAI ag" + "ent",
        )
    ),
    re.IGNORECASE,
)
TEXT = {".py", ".md", ".html", ".css", ".js", ".svg", ".toml", ".yaml", ".yml", ".csv", ".txt", ""}


def make(*arguments: str) -> str:
    """What `make` would run, one command a line."""
    done = subprocess.run(
        ["make", "--dry-run", "--no-print-directory", *arguments],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=True,
    )
    return done.stdout


def test_the_readme_names_the_two_commands() -> None:
    readme = (ROOT / "README.md").read_text()
    assert re.findall(r"^make \w+", readme, re.MULTILINE)[:2] == ["make demo", "make test"]


def test_demo_serves_with_the_locked_libraries() -> None:
    last = make("demo").splitlines()[-1]
    assert "run --locked" in last
    assert last.endswith("python manage.py demo")


@pytest.mark.parametrize(
    "check",
    [
        "ruff check",
        "ruff format --check",
        "mypy",
        "lint-imports",
        "manage.py makemigrations --check",
        "manage.py check --deploy --fail-level WARNING",
        "tests/services/debian_packages.py",
        "pytest tests/bench --groups bench",
        "--groups browser,postgres,redis",
    ],
)
def test_the_test_command_leaves_no_check_out(check: str) -> None:
    assert check in make("test")


def test_the_tests_close_the_test_command() -> None:
    assert "pytest" in make("test").splitlines()[-1]


def test_ci_runs_the_command_of_the_readme_and_leaves_no_group_out() -> None:
    script = (ROOT / ".ci" / "run").read_text()
    commands = [line for line in script.splitlines() if line and not line.startswith("#")]
    assert commands[-1] == "make test"
    assert "export FLEETDOORS_ALL_GROUPS=1" in commands
    assert "set -euo pipefail" in commands


def test_every_command_runs_locked() -> None:
    runs = [line for line in make("test", "demo").splitlines() if "bin/uv" in line]
    assert runs
    assert [line for line in runs if "--locked" not in line] == []


def test_the_lock_names_only_the_public_hosts() -> None:
    lock = (ROOT / "uv.lock").read_text()
    hosts = {urlsplit(url).hostname for url in re.findall(r'https?://[^"\s]+', lock)}
    assert hosts == PUBLIC_HOSTS


def test_every_library_is_locked_by_its_digest() -> None:
    packages = tomllib.loads((ROOT / "uv.lock").read_text())["package"]
    files = [file for package in packages for file in package.get("wheels", [])]
    assert files
    assert [file for file in files if not file.get("hash", "").startswith("sha256:")] == []


def test_the_top_level_holds_what_belongs_there() -> None:
    found = {path.relative_to(ROOT).parts[0] for path in tracked_files()}
    assert found - TOP_LEVEL == set()
    assert TOP_LEVEL - found == set()


def test_no_file_speaks_of_anything_outside_the_project() -> None:
    spoken = []
    for path in tracked_files():
        if path.suffix not in TEXT or path.name == "uv.lock":
            continue
        for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), start=1):
            if NOT_OURS.search(line):
                spoken.append(f"{path.relative_to(ROOT)}:{number}: {line.strip()[:80]}")
    assert spoken == []


def test_each_group_that_needs_a_package_is_brought_by_the_test_command() -> None:
    assert {need.group for need in debian_packages.NEEDS} == {
        "browser", "postgres", "redis", "namespaces",
    }  # fmt: skip
    needs = list(debian_packages.NEEDS)
    assert debian_packages.the_line(needs).endswith("chromium postgresql redis-server iproute2")


def test_without_the_right_to_install_it_says_what_is_left_out_and_how_to_bring_it(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    absent = debian_packages.Need("browser", "chromium", ("no-such-program-anywhere",))
    monkeypatch.setattr(debian_packages, "NEEDS", (absent,))
    monkeypatch.setattr(debian_packages, "way_to_root", lambda: None)
    debian_packages.main()
    assert capsys.readouterr().err == (
        "Left out: the tests of browser. To have them: apt-get update && "
        "apt-get install -y --no-install-recommends chromium\n"
    )
