"""Scaled out: PostgreSQL, a real Redis, a real worker. The queue is never the truth."""

import csv
import shutil
import time
from pathlib import Path

import pytest

from tests.services.postgresql import Cluster
from tests.services.processes import Installation, free_port
from tests.services.redis_server import started_worker
from tests.services.waiting import wait_until

pytestmark = [pytest.mark.postgres, pytest.mark.redis]

STALE = """
SELECT count(*) FROM fleetdoors_doorunit AS door
LEFT JOIN analytics_doorfigures AS figures ON figures.door_id = door.id
 AND figures.generation_id = (SELECT id FROM analytics_computation WHERE is_current)
WHERE figures.door_revision IS DISTINCT FROM door.revision
"""
SECONDS_A_PERSON_WAITS = 15


@pytest.fixture(scope="module")
def prepared(cluster: Cluster, tmp_path_factory: pytest.TempPathFactory) -> Installation:
    """Six doors on PostgreSQL, with figures, and the folder they came from."""
    folder = tmp_path_factory.mktemp("prepared")
    served = Installation(folder, {"DATABASE_URL": cluster.new_database("prepared")})
    served.do("migrate", "--verbosity", "0")
    served.do("make_fleet", str(folder / "fleet"), "--doors", "6", "--days", "200", "--seed", "3")
    served.do("import_fleet", str(folder / "fleet"))
    served.do("recompute")
    return served


@pytest.fixture
def fleet(cluster: Cluster, prepared: Installation, tmp_path: Path) -> Installation:
    """A copy of the prepared fleet that nobody else uses."""
    name = f"fleet_{free_port()}"
    shutil.copytree(prepared.folder / "fleet", tmp_path / "fleet")
    return Installation(tmp_path, {"DATABASE_URL": cluster.new_database(name, like="prepared")})


def one_more_reading(folder: Path) -> Path:
    """A fleet folder with the next reading of one door."""
    with (folder / "fleet" / "readings.csv").open() as file:
        last = list(csv.DictReader(file))[-1]
    later = folder / "later"
    later.mkdir()
    value = int(last["counter_value"]) + 60
    (later / "readings.csv").write_text(
        f"door,read_at,counter_value\n{last['door']},2026-07-01T08:00,{value}\n"
    )
    return later


def stale_doors(cluster: Cluster, installation: Installation) -> int:
    """How many doors have figures that are older than their record."""
    name = installation.settings["DATABASE_URL"].rpartition("/")[2]
    with cluster.connect(name) as connection:
        row = connection.execute(STALE).fetchone()
    return int(row[0]) if row else 0


def with_redis(installation: Installation, url: str) -> Installation:
    """The same installation, its figures computed by workers."""
    return Installation(installation.folder, {**installation.settings, "REDIS_URL": url})


def test_a_worker_computes_what_an_import_changed(
    cluster: Cluster, fleet: Installation, redis_url: str, tmp_path: Path
) -> None:
    scaled = with_redis(fleet, redis_url)
    assert stale_doors(cluster, scaled) == 0
    scaled.do("import_fleet", str(one_more_reading(tmp_path)))
    assert stale_doors(cluster, scaled) == 1, "nobody but a worker computes when there is Redis"
    with started_worker(scaled):
        wait_until(
            lambda: stale_doors(cluster, scaled) == 0, what="the worker to compute", seconds=60
        )


def test_without_redis_nothing_is_lost_and_nobody_waits_long(
    cluster: Cluster, fleet: Installation, tmp_path: Path
) -> None:
    cut_off = with_redis(fleet, f"redis://127.0.0.1:{free_port()}/0")
    later = one_more_reading(tmp_path)
    begun = time.monotonic()
    cut_off.do("import_fleet", str(later))
    assert time.monotonic() - begun < SECONDS_A_PERSON_WAITS
    assert stale_doors(cluster, cut_off) == 1
    cut_off.do("recompute")
    assert stale_doors(cluster, cut_off) == 0


def test_a_sweep_finds_what_was_lost_with_the_queue(
    cluster: Cluster, fleet: Installation, redis_url: str, tmp_path: Path
) -> None:
    with_redis(fleet, f"redis://127.0.0.1:{free_port()}/0").do(
        "import_fleet", str(one_more_reading(tmp_path))
    )
    scaled = with_redis(fleet, redis_url)
    with started_worker(scaled) as caller:
        assert stale_doors(cluster, scaled) == 1
        # What beat sends every minute.
        caller.send_task("analytics.bring_up_to_date")
        wait_until(lambda: stale_doors(cluster, scaled) == 0, what="the sweep", seconds=60)
