"""The migrations, the reference data and the constraints stand on a real PostgreSQL."""

import psycopg
import pytest

from tests.services.postgresql import Cluster
from tests.services.processes import Installation

pytestmark = pytest.mark.postgres


@pytest.fixture
def served(cluster: Cluster, installation: Installation) -> Installation:
    """The program on an empty PostgreSQL database, migrated."""
    url = cluster.new_database(f"fleetdoors_{installation.folder.parent.name[:40]}")
    on_postgresql = Installation(installation.folder, {"DATABASE_URL": url})
    on_postgresql.do("migrate", "--verbosity", "0")
    return on_postgresql


def name_of(served: Installation) -> str:
    return served.settings["DATABASE_URL"].rpartition("/")[2]


def test_migrations_bring_the_reference_data(cluster: Cluster, served: Installation) -> None:
    with cluster.connect(name_of(served)) as connection:
        codes = connection.execute("SELECT code FROM fleetdoors_maintenancetask").fetchall()
        components = connection.execute("SELECT count(*) FROM fleetdoors_component").fetchone()
    assert {("LUB",), ("BAL",), ("COI",)} <= set(codes)
    assert components == (27,)


def test_the_database_itself_refuses_what_the_constraints_forbid(
    cluster: Cluster, served: Installation
) -> None:
    with (
        cluster.connect(name_of(served)) as connection,
        pytest.raises(psycopg.errors.CheckViolation, match="depot_bay_hours_not_negative"),
    ):
        connection.execute(
            "INSERT INTO fleetdoors_depot (code, name, timezone, setting, salt_from, salt_until,"
            " bay_hours_per_day) VALUES ('N', '', 'UTC', 'normal', '11-01', '03-31', -1)"
        )


def test_no_migration_is_missing_on_postgresql(served: Installation) -> None:
    assert "No changes detected" in served.do("makemigrations", "--check", "--dry-run")
