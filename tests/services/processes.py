"""Servers and commands that run beside the tests, as processes of their own."""

import os
import signal
import socket
import subprocess
import sys
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path

from tests.services.waiting import SLOWER

ROOT = Path(__file__).resolve().parents[2]
SECONDS_TO_STOP = 10


def free_port() -> int:
    """A TCP port of this machine that nothing listens on at this moment."""
    with socket.socket() as listener:
        listener.bind(("127.0.0.1", 0))
        port: int = listener.getsockname()[1]
        return port


def answers(port: int, host: str = "127.0.0.1") -> bool:
    """Whether something accepts a connection at the port."""
    with socket.socket() as caller:
        caller.settimeout(1)
        return caller.connect_ex((host, port)) == 0


@contextmanager
def running(
    command: Sequence[str],
    *,
    log: Path,
    folder: Path = ROOT,
    environment: Mapping[str, str] | None = None,
    account: str | None = None,
    farewell: signal.Signals = signal.SIGTERM,
) -> Iterator[subprocess.Popen[bytes]]:
    """Run a server until the block ends; what it writes goes to the log."""
    with log.open("ab") as output:
        process = subprocess.Popen(
            command,
            stdout=output,
            stderr=subprocess.STDOUT,
            cwd=folder,
            env=environment,
            user=account,
            group=account,
            extra_groups=None if account is None else [],
        )
    try:
        yield process
    finally:
        stop(process, farewell)


def children_of(process: subprocess.Popen[bytes]) -> list[int]:
    """The processes that a process has started."""
    listed = Path(f"/proc/{process.pid}/task/{process.pid}/children").read_text()
    return [int(child) for child in listed.split()]


def kill_with_children(process: subprocess.Popen[bytes]) -> None:
    """End a process and what it started as a power cut does: without a word to either."""
    children = children_of(process)
    process.kill()
    for child in children:
        with suppress(ProcessLookupError):
            os.kill(child, signal.SIGKILL)
    process.wait(SECONDS_TO_STOP)


def stop(process: subprocess.Popen[bytes], farewell: signal.Signals) -> None:
    """End a process politely, and by force when it does not listen."""
    process.send_signal(farewell)
    try:
        process.wait(SECONDS_TO_STOP)
    except subprocess.TimeoutExpired:
        process.kill()
        process.wait(SECONDS_TO_STOP)


@dataclass(frozen=True)
class Installation:
    """A copy of the program with a data folder and settings of its own."""

    folder: Path
    settings: Mapping[str, str]

    @property
    def environment(self) -> dict[str, str]:
        """The environment of its processes: its settings, and nothing of the tests' own."""
        kept = {name: os.environ[name] for name in ("PATH", "HOME", "LANG") if name in os.environ}
        return kept | {"FLEETDOORS_DATA_DIR": str(self.folder)} | dict(self.settings)

    def manage(self, *arguments: str) -> subprocess.CompletedProcess[str]:
        """Run one management command to its end, whatever its exit status."""
        return subprocess.run(
            [sys.executable, "manage.py", *arguments],
            cwd=ROOT,
            env=self.environment,
            capture_output=True,
            text=True,
            timeout=300 * SLOWER,
            check=False,
        )

    def do(self, *arguments: str) -> str:
        """Run one management command that must succeed, and return what it printed."""
        done = self.manage(*arguments)
        if done.returncode:
            raise AssertionError(f"{' '.join(arguments)} failed:\n{done.stdout}\n{done.stderr}")
        return done.stdout
