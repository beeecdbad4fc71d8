"""Commands on a database that is new, and on one that an older version left behind."""

from tests.services.processes import Installation


def test_a_new_database_gets_its_tables(installation: Installation) -> None:
    done = installation.manage("figures", "mcbf", "--format", "json")

    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout.startswith("[")


def test_an_older_database_is_refused_with_what_to_do(installation: Installation) -> None:
    installation.do("migrate", "fleetdoors", "0001")

    done = installation.manage("export_fleet", "nowhere")

    assert done.returncode == 1
    assert "python manage.py migrate" in done.stderr
    assert "Traceback" not in done.stderr
