"""The web server of a served install, on a port of its own."""

import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager

from tests.services.processes import Installation, answers, free_port, running
from tests.services.waiting import wait_until


@contextmanager
def started_web_server(installation: Installation) -> Iterator[str]:
    """Run gunicorn with the project's configuration until the block ends, and give its address.

    The address is http; with a certificate of its own it speaks https there.
    """
    with web_server_process(installation) as (address, _process):
        yield address


@contextmanager
def web_server_process(
    installation: Installation,
) -> Iterator[tuple[str, subprocess.Popen[bytes]]]:
    """The same, with its process, whose workers a drill may kill."""
    port = free_port()
    command = [sys.executable, "-m", "gunicorn", "-c", "python:fleetdoors.config.gunicorn"]
    log = installation.folder / "web_server.log"
    environment = installation.environment | {"PORT": str(port)}
    with running(command, log=log, environment=environment) as process:
        wait_until(
            lambda: answers(port),
            what=f"the web server at port {port} (log in {log})",
            seconds=120,
        )
        yield f"http://127.0.0.1:{port}", process
