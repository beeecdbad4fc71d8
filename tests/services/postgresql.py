"""A PostgreSQL cluster of our own: one folder, one socket in it, and a port only if asked for."""

import os
import shutil
import signal
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import quote

import psycopg

from tests.services.processes import running
from tests.services.waiting import wait_until

ACCOUNT = "postgres"


def binaries() -> Path | None:
    """The folder of the newest PostgreSQL server on this machine."""
    found = sorted(
        Path("/usr/lib/postgresql").glob("*/bin/initdb"), key=lambda path: int(path.parts[-3])
    )
    on_path = shutil.which("initdb")
    if found:
        return found[-1].parent
    return Path(on_path).resolve().parent if on_path else None


def missing() -> str | None:
    """Why no PostgreSQL can be started here, or nothing."""
    return None if binaries() else "no PostgreSQL server is installed"


@dataclass(frozen=True)
class Cluster:
    """A running cluster; each caller makes a database of its own in it."""

    folder: Path

    def url(self, name: str) -> str:
        """DATABASE_URL for a database of this cluster."""
        return f"postgresql://{ACCOUNT}@{quote(str(self.folder), safe='')}/{name}"

    def connect(self, name: str = "postgres") -> psycopg.Connection:
        """A connection that commits each statement."""
        return psycopg.connect(
            host=str(self.folder), user=ACCOUNT, dbname=name, autocommit=True, connect_timeout=5
        )

    def new_database(self, name: str, *, like: str = "template1") -> str:
        """Make a database, empty or a copy of another one, and return its DATABASE_URL."""
        with self.connect() as connection:
            connection.execute(f'CREATE DATABASE "{name}" TEMPLATE "{like}"')
        return self.url(name)

    def answers(self) -> bool:
        """Whether it takes connections already."""
        try:
            self.connect().close()
        except psycopg.OperationalError:
            return False
        return True


@contextmanager
def started_cluster(*, host: str = "") -> Iterator[Cluster]:
    """Make a cluster in a new folder, run it until the block ends, and remove it.

    With a host it listens there too, at its usual port, to whoever is on the same network.
    """
    home = binaries()
    if home is None:
        raise FileNotFoundError(missing())
    # Not below pytest's own folder: that one is closed to other accounts.
    folder = Path(tempfile.mkdtemp(prefix="fleetdoors-postgresql-"))
    # The server refuses to run as root.
    account = ACCOUNT if os.geteuid() == 0 else None
    if account:
        shutil.chown(folder, account, account)
    data = folder / "data"
    initdb = [str(home / "initdb"), "-D", str(data), "-U", ACCOUNT, "-A", "trust"]
    server = [str(home / "postgres"), "-D", str(data), "-k", str(folder)]
    options = ["-c", f"listen_addresses={host}", "-c", "fsync=off", "-c", "full_page_writes=off"]
    try:
        subprocess.run(
            [*initdb, "-E", "UTF8", "--locale=C.UTF-8", "--no-sync"],
            check=True,
            capture_output=True,
            cwd=folder,
            user=account,
            group=account,
            extra_groups=[] if account else None,
        )
        with (data / "pg_hba.conf").open("a") as rules:
            rules.write("host all all samenet trust\n")
        log = folder / "server.log"
        # Nothing in it is worth a tidy end.
        with running(
            [*server, *options], log=log, folder=folder, account=account, farewell=signal.SIGQUIT
        ):
            cluster = Cluster(folder)
            wait_until(cluster.answers, what=f"PostgreSQL to answer (log in {log})")
            yield cluster
    finally:
        shutil.rmtree(folder, ignore_errors=True)
