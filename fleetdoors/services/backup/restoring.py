"""A backup brought back: filled in beside the database, then put in its place in one step."""

from __future__ import annotations

import json
from collections.abc import Iterator
from contextlib import contextmanager
from itertools import islice
from pathlib import Path

from django.apps import apps
from django.core.management import call_command
from django.core.management.color import no_style
from django.db import connection, models, transaction
from django.db.migrations.loader import MigrationLoader
from django.db.migrations.recorder import MigrationRecorder
from django.db.utils import DatabaseError

from fleetdoors.services.backup.archive import (
    ArchiveReader,
    BackupRefusedError,
    Manifest,
    table_name,
)
from fleetdoors.services.backup.cells import reshapers, row_of
from fleetdoors.services.backup.emptiness import what_it_holds
from fleetdoors.services.backup.kept import kept_fields
from fleetdoors.services.backup.rows_in import insert_rows
from fleetdoors.services.backup.scratch import scratch_database
from fleetdoors.services.backup.uploads import bring_files
from fleetdoors.services.progress import SILENT, Progress

_ROWS_AT_ONCE = 20_000
Key = tuple[str, str]


def restore_backup(path: Path, *, replace: bool, progress: Progress = SILENT) -> Manifest:
    """Put what the file holds in the place of what the database holds: all of it or nothing."""
    archive = ArchiveReader(path)
    try:
        done = _done(path, archive.manifest)
        if not replace and (found := what_it_holds()):
            raise BackupRefusedError(
                f"The database is not empty: it holds {found}. Nothing was done. With --replace "
                "all of it is replaced by what the file holds."
            )
        progress.begin("checking the file", None)
        archive.verify()
        with _refusing(path), scratch_database() as scratch:
            _fill(archive, done, progress)
            # What this version has more than the one that made the file.
            call_command("migrate", verbosity=0, interactive=False)
            with bring_files(archive):
                scratch.take_the_place()
    finally:
        archive.close()
    return archive.manifest


@contextmanager
def _refusing(path: Path) -> Iterator[None]:
    """Turn what the database refuses into a refusal; what stood there before still stands."""
    try:
        yield
    except (DatabaseError, OSError) as why:
        raise BackupRefusedError(
            f"{path} could not be restored: {why}. The database is as it was."
        ) from why


def _done(path: Path, manifest: Manifest) -> set[Key]:
    """The migrations behind the file's tables; those of a newer version are refused."""
    nodes = MigrationLoader(None).graph.node_map
    installed = {config.label for config in apps.get_app_configs()}
    done = {(app, name) for app, name in manifest.migrations if app in installed}
    unknown = sorted(".".join(key) for key in done if key not in nodes)
    if unknown:
        raise BackupRefusedError(
            f"{path} was made by a newer version of the program: it knows {', '.join(unknown)}. "
            "Nothing was done."
        )
    return done


def _tables_after(done: set[Key]) -> dict[str, type[models.Model]]:
    """The tables as those migrations left them, by the names of their models."""
    loader = MigrationLoader(None)
    nodes = loader.graph.node_map
    leaves = sorted(
        key
        for key in done
        if not any(child.key in done and child.key[0] == key[0] for child in nodes[key].children)
    )
    return {
        model._meta.label: model
        for model in loader.project_state(leaves).apps.get_models(include_auto_created=True)
        if model._meta.managed and not model._meta.proxy
    }


def _fill(archive: ArchiveReader, done: set[Key], progress: Progress) -> None:
    """Make the tables as they were when the file was written, and put its rows into them.

    Made at once, not by one migration after the other: that takes a minute, and what migrations
    write the file holds as people have edited it since. Links and indexes come after the rows.
    """
    tables = _tables_after(done)
    progress.begin("rows", archive.manifest.rows)
    with connection.schema_editor() as editor:
        for model in tables.values():
            if not model._meta.auto_created:
                editor.create_model(model)
        for label, member in archive.manifest.tables.items():
            if label in tables:
                _fill_table(archive, tables[label], member.size, progress)
    recorder = MigrationRecorder(connection)
    recorder.ensure_schema()
    for key in sorted(done):
        recorder.record_applied(*key)
    with transaction.atomic(), connection.cursor() as cursor:
        for statement in connection.ops.sequence_reset_sql(no_style(), list(tables.values())):
            cursor.execute(statement)


def _fill_table(
    archive: ArchiveReader, model: type[models.Model], size: int, progress: Progress
) -> None:
    fields = {each.attname: each for each in kept_fields(model)}
    with archive.table(model._meta.label) as lines:
        columns = [fields[name] for name in json.loads(next(lines))]
        reshaped = reshapers(columns)
        names = [str(each.column) for each in columns]
        total = 0
        while rows := [row_of(line, reshaped) for line in islice(lines, _ROWS_AT_ONCE)]:
            insert_rows(model._meta.db_table, names, rows)
            progress.advance(len(rows))
            total += len(rows)
    if total != size:
        raise BackupRefusedError(
            f"{table_name(model._meta.label)} holds {total:,} rows instead of {size:,}. "
            "Nothing was done."
        )
