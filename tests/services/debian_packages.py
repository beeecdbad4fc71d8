"""Bring the Debian packages that groups of tests need, or say which groups are left out.

Run by `make test` before the tests, with the system's Python: standard library only.
"""

import os
import shutil
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path


@dataclass(frozen=True)
class Need:
    """A program that a group of tests runs, and the package that brings it."""

    group: str
    package: str
    programs: tuple[str, ...]
    # systemd's unit, which a package starts on its own and the tests have no use for.
    service: str = ""

    def is_met(self) -> bool:
        """Whether one of the programs is on this machine."""
        return any(
            shutil.which(name) or any(Path("/").glob(name.lstrip("/"))) for name in self.programs
        )


NEEDS = (
    Need("browser", "chromium", ("chromium", "chromium-browser", "google-chrome")),
    Need("postgres", "postgresql", ("initdb", "/usr/lib/postgresql/*/bin/initdb"), "postgresql"),
    Need("redis", "redis-server", ("redis-server",), "redis-server"),
    Need("namespaces", "iproute2", ("ip", "/sbin/ip", "/usr/sbin/ip")),
)


def the_line(needs: list[Need]) -> str:
    """The one line that a person would type."""
    packages = " ".join(need.package for need in needs)
    return f"apt-get update && apt-get install -y --no-install-recommends {packages}"


def run(command: list[str]) -> subprocess.CompletedProcess[str]:
    """Run a command to its end, whatever its exit status, without questions."""
    return subprocess.run(
        command, stdin=subprocess.DEVNULL, capture_output=True, text=True, check=False
    )


def way_to_root() -> list[str] | None:
    """What to put before a command so that it runs as root without asking, or nothing."""
    if not Path("/etc/debian_version").exists() or not shutil.which("apt-get"):
        return None
    if os.geteuid() == 0:
        return []
    sudo = shutil.which("sudo")
    if sudo and run([sudo, "-n", "true"]).returncode == 0:
        return [sudo, "-n"]
    return None


def bring(needs: list[Need], *, as_root: list[str]) -> bool:
    """Install the packages, and stop the services that they started."""
    said = f"Bringing what the tests need: {', '.join(need.package for need in needs)}."
    sys.stderr.write(f"{said}\n")
    quiet = [*as_root, "env", "DEBIAN_FRONTEND=noninteractive", "apt-get", "-qq"]
    packages = [need.package for need in needs]
    commands = (
        [*quiet, "update"],
        [*quiet, "install", "-y", "--no-install-recommends", *packages],
    )
    for command in commands:
        done = run(command)
        if done.returncode:
            sys.stderr.write(f"{done.stdout[-2000:]}{done.stderr[-2000:]}\n")
            return False
    if Path("/run/systemd/system").exists():
        services = [need.service for need in needs if need.service]
        run([*as_root, "systemctl", "disable", "--now", *services])
    return all(need.is_met() for need in needs)


def main() -> None:
    """Bring what is missing when this account may; never stop the tests that can run."""
    missing = [need for need in NEEDS if not need.is_met()]
    if not missing:
        return
    as_root = way_to_root()
    if as_root is not None and bring(missing, as_root=as_root):
        return
    left_out = [need for need in missing if not need.is_met()]
    groups = ", ".join(need.group for need in left_out)
    sys.stderr.write(f"Left out: the tests of {groups}. To have them: {the_line(left_out)}\n")


if __name__ == "__main__":
    main()
