"""A Redis server of our own, and a Celery worker that listens to it."""

import shutil
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from celery import Celery

from tests.services.processes import Installation, answers, free_port, running
from tests.services.waiting import wait_until


def missing() -> str | None:
    """Why no Redis can be started here, or nothing."""
    return None if shutil.which("redis-server") else "no redis-server is installed"


@contextmanager
def started_redis(folder: Path) -> Iterator[str]:
    """Run Redis in a folder of its own, with its log of writes on, and give its address."""
    program = shutil.which("redis-server")
    if program is None:
        raise FileNotFoundError(missing())
    port = free_port()
    command = [program, "--bind", "127.0.0.1", "--port", str(port), "--dir", str(folder)]
    log = folder / "redis.log"
    with running([*command, "--appendonly", "yes", "--save", ""], log=log):
        wait_until(lambda: answers(port), what=f"Redis to answer at port {port} (log in {log})")
        yield f"redis://127.0.0.1:{port}/0"


@contextmanager
def started_worker(installation: Installation) -> Iterator[Celery]:
    """Run a Celery worker for an installation that has a REDIS_URL, and give a way to ask it."""
    command = [sys.executable, "-m", "celery", "-A", "fleetdoors.config.celery", "worker"]
    log = installation.folder / "worker.log"
    caller = Celery(broker=installation.settings["REDIS_URL"])
    with (
        caller,
        running(
            [*command, "--concurrency", "1", "--loglevel", "info"],
            log=log,
            environment=installation.environment,
        ),
    ):
        wait_until(
            lambda: caller.control.ping(timeout=0.5), what=f"the worker to answer (log in {log})"
        )
        yield caller
