"""A machine cut off from the others by its network, with nobody told, and connected again.

PostgreSQL, Redis, two workers and two web servers, each on a machine of its own (a network
namespace), joined by a switch whose lines are pulled and put back.
"""

from __future__ import annotations

import time
from collections.abc import Iterator
from contextlib import ExitStack
from dataclasses import dataclass

import pytest
from celery import Celery

from tests.services import network as networks
from tests.services.clerk import Clerk, session_of_a_planner
from tests.services.drill_fleet import DrillDatabase, figures_of, write_drill_fleet
from tests.services.network import Network
from tests.services.postgresql import started_cluster
from tests.services.processes import Installation
from tests.services.redis_server import redis_at, worker_process
from tests.services.waiting import SLOWER, wait_until
from tests.services.web_server import web_server_process

pytestmark = [pytest.mark.postgres, pytest.mark.redis, pytest.mark.namespaces]
WORKERS, WEB = ("worker1", "worker2"), ("web1", "web2")
PATIENCE = 60
SECONDS_A_PERSON_WAITS = 15
REDIS_PORT = 6379
# What the settings say in minutes, in seconds: so long until a lost line is noticed.
SOON = (
    "connect_timeout=2&tcp_user_timeout=3000&keepalives_idle=1&keepalives_interval=1"
    "&options=-c%20tcp_user_timeout%3D3000%20-c%20tcp_keepalives_idle%3D1"
    "%20-c%20tcp_keepalives_interval%3D1"
)
WAITING_MACHINES = """
SELECT count(DISTINCT client_addr) FROM pg_stat_activity
WHERE datname = current_database() AND wait_event_type = 'Lock'
"""
SESSIONS_OF = "SELECT count(*) FROM pg_stat_activity WHERE client_addr = '{address}'"
READINGS = "SELECT count(*) FROM inspections_counterreading WHERE counter_value = {value}"


@dataclass(frozen=True)
class Yard:
    """Six machines at work on one fleet, and a hand at the switch."""

    network: Network
    database: DrillDatabase
    near: Installation
    caller: Celery
    sites: tuple[str, ...]
    session: str

    def send(self, task: str) -> None:
        """What a page's button or the beat sends, from beside the queue."""
        # On a line of its own: lines that are kept may begin at a machine that is cut off.
        with self.network.inside("queue"), self.caller.connection_for_write() as line:
            self.caller.send_task(task, connection=line)

    def clerk(self, at: int) -> Clerk:
        return Clerk(self.sites[at], self.session)

    def sessions_of(self, machine: str) -> int:
        return self.database.ask(SESSIONS_OF.format(address=self.network.addresses[machine]))

    def wait_for_both_workers(self) -> None:
        """Wait until each is in the middle of writing."""
        wait_until(
            lambda: self.database.ask(WAITING_MACHINES) == len(WORKERS),
            what="both workers to be in the middle of a slice",
            seconds=PATIENCE,
        )

    def wait_for_a_worker(self) -> None:
        """Wait until one is in the middle of writing, whichever has found the queue again."""
        wait_until(
            lambda: self.database.ask(WAITING_MACHINES) > 0,
            what="a worker to be in the middle of a slice",
            seconds=PATIENCE,
        )

    def wait_for_new_figures(self, before: int) -> None:
        wait_until(
            lambda: self.database.shown() > before, what="new figures to be shown",
            seconds=PATIENCE,
        )  # fmt: skip

    def sweep_until_new_figures(self, before: int) -> None:
        """Sweep as the beat does minute by minute, with the minutes passed already."""

        def swept() -> bool:
            if self.database.shown() > before:
                return True
            self.database.age()
            self.send("analytics.bring_up_to_date")
            return False

        wait_until(swept, what="a sweep to lead to new figures", seconds=2 * PATIENCE, every=5.0)


@pytest.fixture(scope="module")
def yard(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Yard]:
    folder = tmp_path_factory.mktemp("cut_off")
    with ExitStack() as stack:
        network = stack.enter_context(networks.joined("database", "queue", *WORKERS, *WEB))
        with network.inside("database"):
            cluster = stack.enter_context(started_cluster(host=network.addresses["database"]))
        near = Installation(folder, {"DATABASE_URL": cluster.new_database("yard")})
        near.do("migrate", "--verbosity", "0")
        near.do("import_fleet", str(write_drill_fleet(folder / "fleet")))
        near.do("recompute")
        queue = network.addresses["queue"]
        with network.inside("queue"):
            stack.enter_context(redis_at(REDIS_PORT, folder, host=queue))
        far = Installation(
            folder,
            {
                "DATABASE_URL": f"postgresql://postgres@{network.addresses['database']}/yard?{SOON}",
                "REDIS_URL": f"redis://{queue}:{REDIS_PORT}/0",
                "DOORS_IN_SLICE": "1",
            },
        )
        sites = []
        for name in WEB:
            with network.inside(name):
                sites.append(stack.enter_context(web_server_process(far))[0])
        for name in WORKERS:
            with network.inside(name):
                stack.enter_context(worker_process(far, name))
        caller = stack.enter_context(Celery(broker=far.settings["REDIS_URL"]))
        session = session_of_a_planner(near)
        database = DrillDatabase(cluster, near)
        yield Yard(network, database, near, caller, tuple(sites), session)


def test_a_worker_cut_off_in_mid_recompute(yard: Yard) -> None:
    database, before = yard.database, yard.database.shown()
    record, figures = database.record(), figures_of(yard.near)
    with database.nobody_writes("analytics_doorfigures"):
        yard.send("analytics.recompute_fleet")
        yard.wait_for_both_workers()
        yard.network.cut_off("worker1")
    wait_until(
        lambda: not yard.sessions_of("worker1"),
        what="the database to give up the session, and the slice it held",
        seconds=PATIENCE,
    )
    assert database.shown() == before, "the figures before are shown"
    yard.sweep_until_new_figures(before)
    assert database.record() == record
    assert database.stale_doors() == 0
    assert figures_of(yard.near) == figures
    yard.network.connect("worker1")
    again = database.shown()
    with database.nobody_writes("analytics_doorfigures"):
        yard.send("analytics.recompute_fleet")
        yard.wait_for_both_workers()
    yard.wait_for_new_figures(again)
    assert database.stale_doors() == 0
    assert figures_of(yard.near) == figures


def test_the_queue_cut_off_while_people_write(yard: Yard) -> None:
    database = yard.database
    with yard.network.inside("web1"):
        clerk = yard.clerk(0)
        assert clerk.remember_token()
        # The web server has a line to the queue from now on.
        assert clerk.post_reading(8_400) == 302
        wait_until(lambda: database.stale_doors() == 0, what="the worker", seconds=PATIENCE)
        yard.network.cut_off("queue")
        clerk.form = "/doors/D01/reading/"
        begun = time.monotonic()
        assert clerk.post_reading(8_610) == 302
        assert time.monotonic() - begun < SECONDS_A_PERSON_WAITS * SLOWER
    assert database.ask(READINGS.format(value=8_610)) == 1
    assert database.stale_doors() == 1
    with yard.network.inside("web2"):
        status, page = yard.clerk(1).ask("GET", "/doors/D01/")
    assert status == 200
    assert "8,610" in page, "what was written at one web server is read at the other"
    yard.network.connect("queue")
    yard.send("analytics.bring_up_to_date")
    wait_until(lambda: database.stale_doors() == 0, what="the sweep", seconds=PATIENCE)


def test_the_database_cut_off_in_mid_recompute(yard: Yard) -> None:
    database, before = yard.database, yard.database.shown()
    record, figures = database.record(), figures_of(yard.near)
    with database.nobody_writes("analytics_doorfigures"):
        yard.send("analytics.recompute_fleet")
        yard.wait_for_a_worker()
        yard.network.cut_off("database")
    for worker in WORKERS:
        wait_until(
            lambda worker=worker: not yard.sessions_of(worker),  # type: ignore[misc]
            what=f"the database to give up {worker}",
            seconds=PATIENCE,
        )
    with yard.network.inside("web2"):
        begun = time.monotonic()
        assert yard.clerk(1).ask("GET", "/doors/D00/")[0] == 500
        assert time.monotonic() - begun < SECONDS_A_PERSON_WAITS * SLOWER
    yard.network.connect("database")
    yard.sweep_until_new_figures(before)
    assert database.record() == record
    assert database.stale_doors() == 0
    assert figures_of(yard.near) == figures
    with yard.network.inside("web2"):
        assert yard.clerk(1).ask("GET", "/doors/D00/")[0] == 200
