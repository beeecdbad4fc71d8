"""A Redis server of our own, and a Celery worker that listens to it."""

import shutil
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from celery import Celery
from kombu.exceptions import OperationalError
from redis.exceptions import ConnectionError as RedisConnectionError

from tests.services.processes import Installation, answers, free_port, running
from tests.services.waiting import wait_until


def missing() -> str | None:
    """Why no Redis can be started here, or nothing."""
    return None if shutil.which("redis-server") else "no redis-server is installed"


@contextmanager
def started_redis(folder: Path) -> Iterator[str]:
    """Run Redis in a folder of its own, with its log of writes on, and give its address."""
    port = free_port()
    with redis_at(port, folder):
        yield f"redis://127.0.0.1:{port}/0"


@contextmanager
def redis_at(
    port: int, folder: Path, *, host: str = "127.0.0.1"
) -> Iterator[subprocess.Popen[bytes]]:
    """Run Redis at a port: one that was killed there comes back with its log of writes."""
    program = shutil.which("redis-server")
    if program is None:
        raise FileNotFoundError(missing())
    command = [program, "--bind", host, "--port", str(port), "--dir", str(folder)]
    # Away from this machine's own address Redis wants a password, or this word.
    command += ["--protected-mode", "no", "--appendonly", "yes", "--save", ""]
    log = folder / "redis.log"
    with running(command, log=log) as process:
        wait_until(
            lambda: answers(port, host), what=f"Redis to answer at port {port} (log in {log})"
        )
        yield process


def _answers(caller: Celery, name: str) -> bool:
    """Whether the worker of that name answers; a connection to a Redis that is gone says no."""
    try:
        answers_of_all = caller.control.ping(timeout=0.5)
    except (OSError, RedisConnectionError, OperationalError):
        return False
    return any(who.startswith(f"{name}@") for each in answers_of_all for who in each)


@contextmanager
def started_worker(installation: Installation) -> Iterator[Celery]:
    """Run a Celery worker for an installation that has a REDIS_URL, and give a way to ask it."""
    with worker_process(installation) as (caller, _process):
        yield caller


@contextmanager
def worker_process(
    installation: Installation, name: str = "worker"
) -> Iterator[tuple[Celery, subprocess.Popen[bytes]]]:
    """The same, with its process, which a drill may kill."""
    command = [sys.executable, "-m", "celery", "-A", "fleetdoors.config.celery", "worker"]
    log = installation.folder / f"{name}.log"
    caller = Celery(broker=installation.settings["REDIS_URL"])
    with (
        caller,
        running(
            [*command, "--concurrency", "1", "--loglevel", "info", "--hostname", f"{name}@%h"],
            log=log,
            environment=installation.environment,
        ) as process,
    ):
        wait_until(
            lambda: _answers(caller, name),
            what=f"the worker to answer (log in {log})",
            seconds=120,
        )
        yield caller, process
