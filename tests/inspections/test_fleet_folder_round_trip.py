"""What is written can be read into an empty database and written again, byte for byte."""

from __future__ import annotations

import csv
import io
import tempfile
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest
from django.apps import apps
from django.db import connection, transaction
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from fleetdoors.models import Component, Depot, DoorUnit, MaintenanceTask, Part, SeverityFactor
from inspections.models import CounterReading, Fault, StockCount
from inspections.services.fleet_folder.cells import guarded, unguarded
from inspections.services.fleet_folder.exporting import export_fleet, write_template
from inspections.services.fleet_folder.importing import check_fleet, import_fleet
from inspections.services.fleet_folder.tables import TABLES
from inspections.services.fleet_folder.targets import TargetRefusedError
from inspections.services.stock import Counted, record_count
from tests.factories import (
    component,
    make_counter,
    make_depot,
    make_door,
    make_fault,
    make_fitment,
    make_part,
    make_part_used,
    make_reading,
    make_stock_count,
    make_truck,
)
from tests.inspections.fleet_folders import NOW, PLAIN, bring_in, write_folder
from tests.stock_factories import make_van

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("recompute_requests")]
FIXTURE = Path(__file__).parents[2] / "fixtures" / "demo.zip"


def exported(folder: Path) -> dict[str, bytes]:
    export_fleet(folder)
    return {path.name: path.read_bytes() for path in sorted(folder.iterdir())}


def empty_the_database() -> None:
    """Leave what every new installation holds, and nothing else."""
    reference = {Component, MaintenanceTask, SeverityFactor}
    with connection.constraint_checks_disabled(), connection.cursor() as cursor:
        for label in ("inspections", "fleetdoors"):
            for model in apps.get_app_config(label).get_models(include_auto_created=True):
                if model in reference or model.__name__.startswith(("Caution", "Maintenance")):
                    continue
                cursor.execute(f"DELETE FROM {model._meta.db_table}")


def goes_round(folder: Path) -> dict[str, bytes]:
    """Write the fleet, read it into an empty database, write it again; both are the same."""
    first = exported(folder / "first")
    empty_the_database()
    report = import_fleet(folder / "first", now=NOW)
    assert not report.refused, [str(problem) for problem in report.problems][:5]
    second = exported(folder / "second")
    assert second == first
    assert check_fleet(folder / "second", now=NOW).changes_nothing
    return first


def test_a_plain_folder_goes_round(tmp_path: Path) -> None:
    bring_in(tmp_path / "plain", PLAIN)
    tables = goes_round(tmp_path)
    assert (
        "D1,2026-03-01T07:40,1200,Ada,hand,accepted,,,,2026-03-01T07:40"
        in tables["readings.csv"].decode()
    )


def test_the_demo_fleet_goes_round(tmp_path: Path) -> None:
    assert not import_fleet(FIXTURE, now=NOW).refused
    assert len(goes_round(tmp_path)) > 10


@pytest.mark.parametrize("name", ["fleet.zip", "fleet.xlsx"])
def test_archives_and_workbooks_say_the_same_as_a_folder(tmp_path: Path, name: str) -> None:
    bring_in(tmp_path / "plain", PLAIN)
    tables = exported(tmp_path / "first")
    export_fleet(tmp_path / name)
    empty_the_database()
    assert not import_fleet(tmp_path / name, now=NOW).refused
    assert exported(tmp_path / "second") == tables


def test_equal_fleets_make_equal_archives(tmp_path: Path) -> None:
    bring_in(tmp_path / "plain", PLAIN)
    export_fleet(tmp_path / "a.zip")
    export_fleet(tmp_path / "b.zip")
    assert (tmp_path / "a.zip").read_bytes() == (tmp_path / "b.zip").read_bytes()


def test_history_goes_round(tmp_path: Path) -> None:
    """Corrections, words, draws on stock and closed stays look the same at any moment."""
    depot = make_depot(timezone="America/Chicago")
    door = make_door(truck=make_truck(depot=depot))
    part = make_part(component=component("converter"))
    old = make_reading(door=door, counter_value=500, read_at=NOW - timedelta(days=9))
    old.superseded_at = NOW - timedelta(days=5)
    old.save()
    CounterReading.objects.create(
        door=door,
        read_at=old.read_at,
        counter_value=50,
        ruling="accepted",
        corrects=old,
        entered_at=old.superseded_at,
    )
    make_reading(door=door, counter_value=9, ruling="held", status="held", read_at=NOW)
    make_counter(door=door, serial="C1", removed_on=date(2026, 1, 1), last_value=77)
    make_counter(door=door, serial="C2", fitted_on=date(2026, 1, 1))
    make_fitment(
        door=door,
        component=component("spring"),
        position="left",
        removed_on=date(2026, 2, 1),
        removed_at_cycles=60,
        removal="failed",
    )
    fault = make_fault(door=door, component=component("fuse"), found_at=NOW - timedelta(days=3))
    fault.superseded_at = NOW - timedelta(days=2)
    fault.save()
    Fault.objects.create(
        door=door,
        found_at=fault.found_at,
        component=component("converter"),
        entered_at=fault.superseded_at,
        corrects=fault,
    )
    make_part_used(door=door, part=part, draws_on_stock=True)
    make_stock_count(depot=depot, part=part, on_hand=3, service_level=0.95)
    make_stock_count(depot=depot, part=part, on_hand=5, counted_at=NOW - timedelta(days=30))
    seen = [_as_known(NOW - timedelta(days=days)) for days in (0, 1, 4, 7)]
    goes_round(tmp_path)
    assert [_as_known(NOW - timedelta(days=days)) for days in (0, 1, 4, 7)] == seen
    assert Fault.objects.in_force().get().corrects.component.code == "fuse"
    assert StockCount.objects.latest("counted_at").on_hand == 3


def _as_known(moment: datetime) -> list[tuple[object, ...]]:
    readings = CounterReading.objects.entered_before(moment).order_by("read_at")
    faults = Fault.objects.entered_before(moment).order_by("found_at")
    return [
        *readings.values_list("read_at", "counter_value", "ruling", "status"),
        *faults.values_list("found_at", "component__code"),
    ]


def test_a_reading_corrected_twice_goes_round(tmp_path: Path) -> None:
    door = make_door()
    before = None
    for step, value in enumerate((1, 2, 1, 3)):
        row = CounterReading(
            door=door,
            read_at=NOW - timedelta(days=9),
            counter_value=value,
            corrects=before,
            entered_at=NOW - timedelta(days=8 - step),
        )
        if value != 3:
            row.superseded_at = NOW - timedelta(days=7 - step)
        row.save()
        before = row
    goes_round(tmp_path)
    chain = CounterReading.objects.order_by("entered_at").values_list("counter_value", flat=True)
    assert list(chain) == [1, 2, 1, 3]


def test_a_moment_in_the_hour_that_happens_twice_goes_round(tmp_path: Path) -> None:
    door = make_door(depot=make_depot(timezone="America/Chicago"))
    first = datetime(2026, 11, 1, 6, 30, tzinfo=UTC)
    for moment in (first, first + timedelta(hours=1), first + timedelta(seconds=1.5)):
        make_reading(door=door, counter_value=1, read_at=moment)
    text = goes_round(tmp_path)["readings.csv"].decode()
    assert "2026-11-01T01:30,1" in text
    assert "2026-11-01T07:30Z,1" in text
    assert "2026-11-01T01:30:01.500000,1" in text


def test_parts_of_a_second_are_not_rounded(tmp_path: Path) -> None:
    """SQLite's own date functions round 59.9995 seconds up to the next minute."""
    moment = datetime(2026, 3, 1, 7, 40, 59, 999_500, tzinfo=UTC)
    make_reading(door=make_door(), counter_value=1, read_at=moment)
    assert "2026-03-01T07:40:59.999500,1" in goes_round(tmp_path)["readings.csv"].decode()


@pytest.mark.django_db(transaction=True)
def test_an_export_sees_one_moment_and_keeps_nobody_from_writing(tmp_path: Path) -> None:
    """A phone writes while the export is between two tables."""
    make_door(serial="D1")

    class Phone:
        def begin(self, label: str, total: int | None) -> None:
            if label == "doors":
                with ThreadPoolExecutor(1) as other:
                    other.submit(self._write).result()

        def advance(self, rows: int) -> None:
            """Nothing to tell."""

        def _write(self) -> None:
            make_reading(door=DoorUnit.objects.get(), counter_value=7)
            connection.close()

    export_fleet(tmp_path / "f", progress=Phone())
    assert CounterReading.objects.count() == 1
    assert not (tmp_path / "f" / "readings.csv").exists()


@pytest.mark.parametrize("text", ["=1+2", "+44", "-", "@x", "'tis", "''", "'=1", "plain", "a=b"])
def test_no_cell_is_a_formula_and_every_text_comes_back(tmp_path: Path, text: str) -> None:
    Depot.objects.create(code="A", name=text)
    rows = list(csv.reader(io.StringIO(exported(tmp_path / "f")["depots.csv"].decode())))
    assert not rows[1][1].startswith(("=", "+", "-", "@"))
    empty_the_database()
    import_fleet(tmp_path / "f", now=NOW)
    assert Depot.objects.get().name == text


@given(st.text())
def test_guarding_text_is_undone(text: str) -> None:
    assert unguarded(guarded(text)) == text
    assert not guarded(text).startswith(("=", "+", "-", "@"))


def test_an_export_overwrites_nothing(tmp_path: Path) -> None:
    (tmp_path / "full").mkdir()
    (tmp_path / "full" / "mine.txt").write_text("mine")
    (tmp_path / "fleet.zip").write_text("mine")
    for name in ("full", "fleet.zip", "full/mine.txt/below"):
        with pytest.raises(TargetRefusedError):
            export_fleet(tmp_path / name)
    assert (tmp_path / "fleet.zip").read_text() == "mine"


def test_the_template_holds_every_table_and_imports_as_nothing(tmp_path: Path) -> None:
    write_template(tmp_path / "template.zip")
    report = check_fleet(tmp_path / "template.zip", now=NOW)
    assert not report.refused
    assert report.changes_nothing
    assert len(report.counts) == len(TABLES)


names = st.text(
    st.characters(codec="utf-8", exclude_categories=("Cc", "Cs", "Zl", "Zp", "Zs")),
    min_size=1,
    max_size=12,
).filter(lambda text: text == text.strip())
moments = st.datetimes(datetime(2024, 1, 1), datetime(2026, 11, 24), timezones=st.just(UTC))
zones = st.sampled_from(["UTC", "America/Chicago", "Australia/Lord_Howe", "Asia/Kathmandu"])


@st.composite
def fleets(draw: st.DrawFn) -> dict[str, list[tuple[object, ...]]]:
    """A small fleet as plain values."""
    doors = draw(st.lists(names, min_size=1, max_size=4, unique=True))
    door = st.sampled_from(doors)
    return {
        "zones": draw(st.lists(zones, min_size=1, max_size=3)),
        "doors": [(serial, draw(names), draw(st.integers(0, 2))) for serial in doors],
        "readings": draw(
            st.lists(
                st.tuples(door, moments, st.integers(0, 999_999), names | st.just("")),
                unique_by=lambda reading: reading[:2],
                max_size=20,
            )
        ),
        "faults": draw(
            st.lists(st.tuples(door, moments, st.booleans(), st.none() | st.integers(0, 10**7)))
        ),
        "parts": draw(
            st.lists(
                st.tuples(names, names, st.none() | st.decimals(0, 10**6, places=2)),
                unique_by=lambda part: part[0],
                max_size=4,
            )
        ),
    }


def _build(fleet: dict[str, list[tuple[object, ...]]]) -> None:
    depots = [
        make_depot(code=f"A{index}", timezone=zone) for index, zone in enumerate(fleet["zones"])
    ]
    doors = {
        serial: make_door(
            serial=serial,
            truck=make_truck(depot=depots[at % len(depots)], route_kind=route),
        )
        for serial, route, at in fleet["doors"]
    }
    for serial, read_at, value, read_by in fleet["readings"]:
        make_reading(door=doors[serial], read_at=read_at, counter_value=value, read_by=read_by)
    for serial, found_at, is_failure, cycles in fleet["faults"]:
        make_fault(
            door=doors[serial],
            found_at=found_at,
            is_failure=is_failure,
            at_cycles=cycles,
            component=component("fuse"),
        )
    for number, name, cost in fleet["parts"]:
        Part.objects.create(part_number=number, name=name, unit_cost=cost)


@settings(
    max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(fleet=fleets())
def test_small_fleets_of_any_shape_go_round(fleet: dict[str, list[tuple[object, ...]]]) -> None:
    with transaction.atomic(), tempfile.TemporaryDirectory() as folder:
        empty_the_database()
        _build(fleet)
        goes_round(Path(folder))
        transaction.set_rollback(True)


def test_what_was_counted_in_a_van_stays_out_of_the_depots_stock(tmp_path: Path) -> None:
    """The table has a row for each depot and part: it speaks of the shelf."""
    depot, part = make_depot(code="N"), make_part(part_number="FUSE")
    make_stock_count(depot=depot, part=part, on_hand=5, counted_at=NOW - timedelta(days=1))
    van = make_van(depot=depot)
    record_count(
        depot=depot,
        part=part,
        place=van,
        counted=Counted(on_hand=2),
        counted_at=NOW - timedelta(hours=1),
        entered_at=NOW - timedelta(hours=1),
    )
    kept = list(StockCount.objects.order_by("pk").values_list("place", "on_hand"))
    text = exported(tmp_path / "out")["stock.csv"].decode("utf-8-sig")
    assert [line.split(",")[:3] for line in text.splitlines()[1:]] == [["N", "FUSE", "5"]]
    assert check_fleet(tmp_path / "out", now=NOW).changes_nothing
    # The shelf counted anew by a folder leaves the van alone.
    fewer = {"stock": "depot,part,on_hand,counted_on\nN,FUSE,4,2026-11-25\n"}
    assert not import_fleet(write_folder(tmp_path / "in", fewer), now=NOW).refused
    told = list(StockCount.objects.order_by("pk").values_list("place", "on_hand"))
    assert told == [*kept, (None, 4)]
