"""Fault drills on real servers: what breaks, and that nothing of the record was lost by it."""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from http.client import HTTPException
from pathlib import Path

import pytest
from celery import Celery

from tests.services.clerk import Clerk, session_of_a_planner
from tests.services.drill_fleet import (
    DrillDatabase,
    figures_of,
    later_readings,
    write_drill_fleet,
)
from tests.services.postgresql import Cluster
from tests.services.processes import (
    ROOT,
    Installation,
    children_of,
    free_port,
    kill_with_children,
)
from tests.services.redis_server import redis_at, worker_process
from tests.services.waiting import SLOWER, wait_until
from tests.services.web_server import web_server_process

pytestmark = [pytest.mark.postgres, pytest.mark.redis]
PATIENCE = 180


@pytest.fixture(scope="module")
def prepared(cluster: Cluster, tmp_path_factory: pytest.TempPathFactory) -> Installation:
    """The drill fleet on PostgreSQL, with figures."""
    folder = tmp_path_factory.mktemp("drill")
    served = Installation(folder, {"DATABASE_URL": cluster.new_database("drill")})
    served.do("migrate", "--verbosity", "0")
    served.do("import_fleet", str(write_drill_fleet(folder / "fleet")))
    served.do("recompute")
    return served


@pytest.fixture
def fleet(cluster: Cluster, prepared: Installation, tmp_path: Path) -> Installation:
    """A copy of it that nobody else uses, its slices one depot each."""
    url = cluster.new_database(f"drill_{free_port()}", like="drill")
    return Installation(tmp_path, {"DATABASE_URL": url, "DOORS_IN_SLICE": "1"})


@pytest.fixture
def database(cluster: Cluster, fleet: Installation) -> DrillDatabase:
    return DrillDatabase(cluster, fleet)


def with_redis(installation: Installation, port: int) -> Installation:
    """The same installation, its figures computed by workers."""
    url = f"redis://127.0.0.1:{port}/0"
    return Installation(installation.folder, {**installation.settings, "REDIS_URL": url})


def started(installation: Installation, *arguments: str) -> subprocess.Popen[str]:
    """A management command that runs beside the test."""
    return subprocess.Popen(
        [sys.executable, "manage.py", *arguments],
        cwd=ROOT,
        env=installation.environment,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )


def ask_for_all(caller: Celery) -> None:
    """What the page's button sends."""
    caller.send_task("analytics.recompute_fleet")


def sweep(caller: Celery) -> None:
    """What beat sends every minute."""
    caller.send_task("analytics.bring_up_to_date")


def wait_for_new_figures(database: DrillDatabase, before: int) -> None:
    wait_until(lambda: database.shown() > before, what="new figures to be shown", seconds=PATIENCE)


def test_a_worker_killed_in_mid_recompute(
    fleet: Installation, database: DrillDatabase, tmp_path: Path
) -> None:
    port, before = free_port(), database.shown()
    scaled, record = with_redis(fleet, port), database.record()
    with redis_at(port, tmp_path):
        with worker_process(scaled, "first") as (caller, process):
            with database.nobody_writes("analytics_doorfigures") as connection:
                ask_for_all(caller)
                database.wait_for_waiting(connection)
                kill_with_children(process)
            assert database.shown() == before, "the figures before are shown"
        with worker_process(scaled, "second") as (caller, _process):
            database.age()
            sweep(caller)
            wait_for_new_figures(database, before)
            wait_until(lambda: database.runs() == 1, what="the old run to be swept away")
    assert database.record() == record
    assert database.stale_doors() == 0
    assert (
        database.ask("SELECT count(*) FROM analytics_doorfigures") == record["fleetdoors_doorunit"]
    ), "each door has its figures once"


@pytest.mark.parametrize("keeps_its_file", [True, False])
def test_redis_killed_with_work_in_it(
    fleet: Installation,
    database: DrillDatabase,
    tmp_path: Path,
    keeps_its_file: bool,
) -> None:
    port = free_port()
    scaled = with_redis(fleet, port)
    with redis_at(port, tmp_path) as process:
        scaled.do("import_fleet", str(later_readings(tmp_path / "later")))
        process.kill()
        process.wait(10)
    stale = database.stale_doors()
    assert stale == database.record()["fleetdoors_doorunit"]
    if not keeps_its_file:
        shutil.rmtree(tmp_path / "appendonlydir")
    with redis_at(port, tmp_path), worker_process(scaled) as (caller, _process):
        if not keeps_its_file:
            sweep(caller)
        wait_until(
            lambda: database.stale_doors() == 0, what="figures of every door", seconds=PATIENCE
        )


def test_redis_lost_in_mid_recompute(
    fleet: Installation, database: DrillDatabase, tmp_path: Path
) -> None:
    port, before = free_port(), database.shown()
    scaled, record = with_redis(fleet, port), database.record()
    with redis_at(port, tmp_path) as process, worker_process(scaled, "first") as (caller, worker):
        with database.nobody_writes("analytics_doorfigures") as connection:
            ask_for_all(caller)
            database.wait_for_waiting(connection)
            process.kill()
            process.wait(10)
        kill_with_children(worker)
    shutil.rmtree(tmp_path / "appendonlydir")
    with redis_at(port, tmp_path), worker_process(scaled, "second") as (caller, _process):
        database.age()
        sweep(caller)
        wait_for_new_figures(database, before)
    assert database.record() == record
    assert database.stale_doors() == 0


def test_the_database_cut_off_in_mid_import(
    fleet: Installation, database: DrillDatabase, tmp_path: Path
) -> None:
    record, later = database.record(), str(later_readings(tmp_path / "later"))
    with database.nobody_writes("inspections_counterreading") as connection:
        importing = started(fleet, "import_fleet", later)
        session = database.wait_for_waiting(connection)
        connection.execute("SELECT pg_terminate_backend(%s)", [session])
        _said, complaint = importing.communicate(timeout=PATIENCE * SLOWER)
    assert importing.returncode == 1
    assert "The database broke off" in complaint
    assert "Traceback" not in complaint
    assert database.record() == record, "all or nothing"
    fleet.do("import_fleet", later)
    doors = record["fleetdoors_doorunit"]
    table = "inspections_counterreading"
    assert database.record() == {**record, table: record[table] + doors}
    assert "nothing changes" in fleet.do("import_fleet", later)


def test_two_imports_of_the_same_folder_at_once(
    fleet: Installation, database: DrillDatabase, tmp_path: Path
) -> None:
    record, later = database.record(), later_readings(tmp_path / "later")
    (later / "tasks_done.csv").write_text("door,task,done_at\nD00,LUB,2026-06-29\n")
    with database.nobody_writes("inspections_counterreading") as connection:
        both = [started(fleet, "import_fleet", str(later)) for _ in range(2)]
        database.wait_for_waiting(connection)
    said = [each.communicate(timeout=PATIENCE * SLOWER) for each in both]
    assert [each.returncode for each in both] == [0, 0], said
    assert sum("nothing changes" in words for words, _complaint in said) == 1
    found = database.record()
    assert found["inspections_taskdone"] == record["inspections_taskdone"] + 1
    assert found["inspections_counterreading"] == (
        record["inspections_counterreading"] + record["fleetdoors_doorunit"]
    )


def test_two_recomputes_at_once(fleet: Installation, database: DrillDatabase) -> None:
    before, figures = database.shown(), figures_of(fleet)
    with database.nobody_writes("analytics_doorfigures") as connection:
        both = [started(fleet, "recompute") for _ in range(2)]
        wait_until(
            lambda: database.runs() == 3, what="both runs to have begun writing", seconds=PATIENCE
        )
        database.wait_for_waiting(connection)
    said = [each.communicate(timeout=PATIENCE * SLOWER) for each in both]
    assert [each.returncode for each in both] == [0, 0], said
    assert database.shown() > before
    assert database.ask("SELECT count(*) FROM analytics_computation WHERE is_current") == 1
    assert database.stale_doors() == 0
    fleet.do("recompute")
    assert database.runs() == 1, "what the slower run left is swept away"
    assert figures_of(fleet) == figures


def test_the_web_process_killed_in_mid_request(
    fleet: Installation, database: DrillDatabase
) -> None:
    record = database.record()
    session = session_of_a_planner(fleet)
    with web_server_process(fleet) as (site, server):
        clerk = Clerk(site, session)
        assert clerk.remember_token()
        with (
            database.nobody_writes("inspections_counterreading") as connection,
            ThreadPoolExecutor(1) as beside,
        ):
            posted = beside.submit(clerk.post_reading, 8_400)
            database.wait_for_waiting(connection)
            for worker in children_of(server):
                os.kill(worker, signal.SIGKILL)
            with pytest.raises((ConnectionError, HTTPException)):
                posted.result(PATIENCE * SLOWER)
        assert database.record() == record, "nothing of it is there by half"
        answered = wait_until(
            lambda: clerk.ask("GET", Clerk.form)[0],
            what="the web server to be back",
            seconds=PATIENCE,
        )
        assert answered == 200
        assert clerk.post_reading(8_400) == 302
    table = "inspections_counterreading"
    assert database.record() == {**record, table: record[table] + 1}
