"""Backup and restore: all of it, nothing of it, and what is refused."""

from __future__ import annotations

import resource
from contextlib import suppress
from datetime import UTC, datetime
from hashlib import sha256
from pathlib import Path

import pytest
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.core.management import CommandError, call_command
from pytest_django.fixtures import Settings

from analytics.models import DoorFigures, DueTask
from analytics.recompute import recompute_fleet
from fleetdoors.models import Component, Depot, DoorUnit, Role
from fleetdoors.services.backup import BackupRefusedError, make_backup, restore_backup
from fleetdoors.services.backup.archive import ArchiveReader
from fleetdoors.services.backup.cells import reshapers
from fleetdoors.services.backup.emptiness import BROUGHT_BY_MIGRATIONS, what_it_holds
from fleetdoors.services.backup.kept import kept_fields, kept_models
from inspections.models import Attachment, CounterReading
from tests.factories import (
    NOW,
    component,
    make_depot,
    make_door,
    make_fault,
    make_fitment,
    make_reading,
    make_readings,
    make_task_done,
    make_user,
    task,
)
from tests.fleetdoors.backup_files import (
    as_of_first_migration,
    digests_of,
    tables_of,
    write_file,
)

pytestmark = pytest.mark.django_db(transaction=True)
PICTURE = b"\x89PNG\r\n\x1a\n" + bytes(range(256)) * 8
MADE_AT = datetime(2026, 11, 25, 13, 0, tzinfo=UTC)


@pytest.fixture(autouse=True)
def uploads(tmp_path: Path, settings: Settings) -> Path:
    """A folder of their own for uploaded files."""
    settings.MEDIA_ROOT = tmp_path / "uploads"
    return Path(settings.MEDIA_ROOT)


@pytest.fixture
def record(uploads: Path) -> None:
    """A bit of everything: history, a photo, a person, words from everywhere, figures."""
    depot = make_depot(code="Köln", timezone="Europe/Berlin", setting="salt")
    door = make_door(serial="Tür 1 „Nord“\n2", depot=depot, opening_cycles=12)
    readings = make_readings(door=door, values=[100, 350, 610, 900, 1200, 1490])
    make_fault(door=door, mode="FM01", at_cycles=600)
    make_fitment(door=door, component=component("spring"))
    make_task_done(door=door, task=task("LUB"))
    make_user(role=Role.PLANNER, username="plan", depots=[depot])
    digest = sha256(PICTURE).hexdigest()
    Attachment.objects.create(
        file=ContentFile(PICTURE, name=f"{digest}.png"),
        sha256=digest,
        content_type="image/png",
        bytes_count=len(PICTURE),
        taken_at=NOW,
        entered_at=NOW,
        reading=readings[0],
    )
    recompute_fleet(as_of=NOW, started_at=NOW)


def backup(path: Path) -> Path:
    make_backup(path, made_at=MADE_AT)
    return path


def restore(path: Path) -> None:
    restore_backup(path, replace=True)


@pytest.fixture
def file(record: None, tmp_path: Path) -> Path:
    """A backup of the record."""
    return backup(tmp_path / "fleet.zip")


def test_what_is_restored_is_what_was_backed_up_to_the_last_cell(
    file: Path, tmp_path: Path, uploads: Path
) -> None:
    figures = list(DoorFigures.objects.current().values().order_by("pk"))
    due = list(DueTask.objects.current().values().order_by("pk"))
    last = CounterReading.objects.order_by("pk").last()
    [name] = Attachment.objects.values_list("file", flat=True)
    CounterReading.objects.filter(attachments__isnull=True).delete()
    Depot.objects.filter(code="Köln").update(timezone="UTC")
    (uploads / name).unlink()
    assert digests_of(backup(tmp_path / "changed.zip")) != digests_of(file)

    call_command("restore", str(file), "--replace", verbosity=0)

    assert digests_of(backup(tmp_path / "again.zip")) == digests_of(file)
    assert list(DoorFigures.objects.current().values().order_by("pk")) == figures
    assert list(DueTask.objects.current().values().order_by("pk")) == due
    assert figures
    assert due
    assert (uploads / name).read_bytes() == PICTURE
    # Restored tables go on counting where they were.
    assert last is not None
    assert make_reading(door=DoorUnit.objects.get(), counter_value=1).pk > last.pk


def test_rows_of_a_run_that_still_writes_stay_out(file: Path, tmp_path: Path) -> None:
    rows = tables_of(file)["analytics.DoorFigures"]
    before = DoorFigures.objects.count()
    lost = DoorFigures.objects.current().get()
    lost.pk, lost.generation_id = None, 9_999
    lost.save()
    assert DoorFigures.objects.count() == before + 1
    assert tables_of(backup(tmp_path / "again.zip"))["analytics.DoorFigures"] == rows


def test_the_file_holds_no_key_and_nobody_else_may_read_it(file: Path, settings: Settings) -> None:
    written = str(tables_of(file))
    assert settings.SECRET_KEY not in written
    assert file.stat().st_mode & 0o077 == 0


def test_a_photo_that_is_missing_is_told_and_does_not_stop_the_backup(
    record: None, uploads: Path, tmp_path: Path
) -> None:
    [name] = Attachment.objects.values_list("file", flat=True)
    default_storage.delete(name)
    assert make_backup(tmp_path / "fleet.zip", made_at=MADE_AT).missing_files == [name]


def test_a_database_that_holds_anything_is_refused(file: Path, tmp_path: Path) -> None:
    with pytest.raises(BackupRefusedError, match=r"not empty: it holds .*counter readings"):
        restore_backup(file, replace=False)
    assert digests_of(backup(tmp_path / "again.zip")) == digests_of(file)


def test_a_new_database_is_empty_whatever_the_migrations_wrote() -> None:
    assert Component.objects.exists()
    assert what_it_holds() == ""
    assert {model._meta.label for model in kept_models()} >= BROUGHT_BY_MIGRATIONS


def _migrations(path: Path) -> list[list[str]]:
    archive = ArchiveReader(path)
    archive.close()
    return archive.manifest.migrations


def test_a_file_of_an_older_version_is_brought_forward(file: Path, tmp_path: Path) -> None:
    older = as_of_first_migration(file, tmp_path / "older.zip")
    tables = tables_of(older)
    assert "inspections.CounterReading" not in tables
    serials = DoorUnit.objects.values_list("serial", flat=True)
    restore(older)
    assert list(serials.all()) == ["Tür 1 „Nord“\n2"]
    assert CounterReading.objects.count() == 0, "the tables that came later are there, and empty"


def test_a_file_of_a_newer_version_is_refused(file: Path, tmp_path: Path) -> None:
    newer = write_file(
        tmp_path / "newer.zip",
        tables_of(file),
        [*_migrations(file), ["inspections", "0999_things_to_come"]],
    )
    with pytest.raises(BackupRefusedError, match=r"newer version.*inspections\.0999_things"):
        restore(newer)
    assert digests_of(backup(tmp_path / "again.zip")) == digests_of(file)


@pytest.mark.parametrize("place", [0.1, 0.5, 0.8, 0.9999])
def test_a_damaged_byte_is_never_restored(file: Path, tmp_path: Path, place: float) -> None:
    content = bytearray(file.read_bytes())
    at = int(place * len(content))
    content[at] ^= 0x55
    bad = tmp_path / "bad.zip"
    bad.write_bytes(bytes(content))
    with suppress(BackupRefusedError):
        restore(bad)
    # A few bytes of a zip archive stand twice; where that one was hit, nothing is lost.
    assert digests_of(backup(tmp_path / "again.zip")) == digests_of(file)


@pytest.mark.parametrize("share", [0.0, 0.99])
def test_a_file_that_was_cut_short_is_refused(file: Path, tmp_path: Path, share: float) -> None:
    cut = tmp_path / "cut.zip"
    cut.write_bytes(file.read_bytes()[: int(share * file.stat().st_size)])
    with pytest.raises(BackupRefusedError, match="damaged or is no backup"):
        restore(cut)


def test_rows_that_hang_in_the_air_are_refused_and_nothing_is_changed(
    file: Path, tmp_path: Path
) -> None:
    tables = tables_of(file)
    columns, *doors = tables["fleetdoors.DoorUnit"]
    doors[0][columns.index("door_model_id")] = 987_654
    tables["fleetdoors.DoorUnit"] = [columns, *doors]
    odd = write_file(tmp_path / "odd.zip", tables, _migrations(file))
    with pytest.raises(BackupRefusedError, match="The database is as it was"):
        restore(odd)
    assert digests_of(backup(tmp_path / "again.zip")) == digests_of(file)


def test_a_name_that_leads_out_of_the_uploads_is_refused(
    record: None, file: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("fleetdoors.services.backup.making._uploaded", lambda: ["../elsewhere"])
    (tmp_path / "elsewhere").write_bytes(b"x")
    monkeypatch.setattr(default_storage, "exists", lambda name: True)
    monkeypatch.setattr(default_storage, "open", lambda name: (tmp_path / "elsewhere").open("rb"))
    bad = backup(tmp_path / "bad.zip")
    (tmp_path / "elsewhere").unlink()
    with pytest.raises(BackupRefusedError, match="outside the uploads"):
        restore(bad)
    assert not (tmp_path / "elsewhere").exists()


def test_a_file_that_may_not_grow_leaves_the_older_backup(file: Path, tmp_path: Path) -> None:
    before = file.read_bytes()
    limits = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (4_096, limits[1]))
    try:
        with pytest.raises(CommandError, match=r"No backup was made: .*older one") as refusal:
            call_command("backup", str(file))
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, limits)
    assert refusal.value.returncode == 1
    assert file.read_bytes() == before
    assert [path.name for path in tmp_path.iterdir() if path.name.startswith(".")] == []


def test_every_column_has_a_form_in_a_backup() -> None:
    for model in kept_models():
        reshapers(kept_fields(model))


def test_the_commands_tell_wrong_usage_from_a_refusal(file: Path, tmp_path: Path) -> None:
    for arguments in (("backup", tmp_path / "no" / "b.zip"), ("restore", tmp_path / "no.zip")):
        with pytest.raises(CommandError, match="FILE must") as wrong:
            call_command(*map(str, arguments))
        assert wrong.value.returncode == 2
    with pytest.raises(CommandError, match="--replace") as refused:
        call_command("restore", str(file))
    assert refused.value.returncode == 1
