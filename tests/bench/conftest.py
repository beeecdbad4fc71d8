"""A large made fleet in a database file of its own, beside the one of the other tests."""

from __future__ import annotations

import os
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest
from django.core.management import call_command
from django.db import connection
from pytest_django import DjangoDbBlocker

from tests.bench.made_fleet import make_fleet

DOORS = int(os.environ.get("FLEETDOORS_BENCH_DOORS", "20000"))
READINGS_PER_DOOR = 50


@dataclass(frozen=True)
class Bench:
    """The database file of a fleet of so many doors."""

    file: Path
    doors: int
    readings: int


@pytest.fixture(scope="session")
def large_fleet(
    django_db_setup: None,
    django_db_blocker: DjangoDbBlocker,
    tmp_path_factory: pytest.TempPathFactory,
) -> Iterator[Bench]:
    """20,000 doors with 1,000,000 readings on SQLite, and Django connected to them."""
    file = tmp_path_factory.mktemp("bench") / "fleetdoors.sqlite3"
    with django_db_blocker.unblock():
        connection.close()
        usual = connection.settings_dict["NAME"]
        connection.settings_dict["NAME"] = str(file)
        call_command("migrate", verbosity=0)
        make_fleet(DOORS, READINGS_PER_DOOR)
        yield Bench(file, DOORS, DOORS * READINGS_PER_DOOR)
        connection.close()
        connection.settings_dict["NAME"] = usual
