"""A copy of everything into one file, while people go on working."""

from __future__ import annotations

import os
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from datetime import datetime
from itertools import islice
from pathlib import Path
from tempfile import NamedTemporaryFile
from typing import IO, Any

from django.core.files.storage import default_storage
from django.db import connection, models
from django.db.migrations.recorder import MigrationRecorder

from fleetdoors.services.backup.archive import (
    ArchiveWriter,
    Digested,
    Manifest,
    Member,
    file_name,
    table_name,
)
from fleetdoors.services.backup.cells import line_of
from fleetdoors.services.backup.kept import kept_fields, kept_models, kept_rows
from fleetdoors.services.backup.one_moment import one_moment
from fleetdoors.services.progress import SILENT, Progress

_ROWS_AT_ONCE = 5_000
_BYTES_AT_ONCE = 2**20


def make_backup(path: Path, *, made_at: datetime, progress: Progress = SILENT) -> Manifest:
    """Write everything as it is at one moment to the file, which appears when it is complete."""
    with replacing(path) as stream, one_moment():
        manifest = Manifest(
            made_at=made_at.isoformat(),
            engine=connection.vendor,
            migrations=sorted(
                list(key) for key in MigrationRecorder(connection).applied_migrations()
            ),
        )
        with ArchiveWriter(stream) as archive:
            _write_tables(archive, manifest, progress)
            _write_files(archive, manifest, progress)
            archive.close(manifest)
    return manifest


@contextmanager
def replacing(path: Path) -> Iterator[IO[bytes]]:
    """A new file that takes the name when the block ends well, and leaves no trace when not.

    Only this account may read it: it holds password hashes.
    """
    with NamedTemporaryFile(dir=path.parent, prefix=f".{path.name}.", delete=False) as stream:
        try:
            yield stream
            stream.flush()
            os.fsync(stream.fileno())
            Path(stream.name).replace(path)
        except BaseException:
            Path(stream.name).unlink(missing_ok=True)
            raise


def _write_tables(archive: ArchiveWriter, manifest: Manifest, progress: Progress) -> None:
    models_kept = kept_models()
    progress.begin("rows", sum(kept_rows(model).count() for model in models_kept))
    for model in models_kept:
        label = model._meta.label
        with archive.member(table_name(label)) as stream:
            rows = _write_table(stream, model, progress)
        manifest.tables[label] = Member(stream.hexdigest(), rows)


def _write_table(stream: Digested, model: type[models.Model], progress: Progress) -> int:
    """The names of the columns, then a line for each row; returns their number."""
    names = [each.attname for each in kept_fields(model)]
    stream.write(line_of(tuple(names)).encode())
    rows = kept_rows(model).values_list(*names).iterator(chunk_size=_ROWS_AT_ONCE)
    total = 0
    while lines := [line_of(row) for row in islice(rows, _ROWS_AT_ONCE)]:
        stream.write("".join(lines).encode())
        progress.advance(len(lines))
        total += len(lines)
    return total


def _write_files(archive: ArchiveWriter, manifest: Manifest, progress: Progress) -> None:
    names = sorted(set(_uploaded()))
    progress.begin("files", len(names))
    for name in names:
        if default_storage.exists(name):
            manifest.files[name] = _write_file(archive, name)
        else:
            manifest.missing_files.append(name)
        progress.advance(1)


def _write_file(archive: ArchiveWriter, name: str) -> Member:
    size = 0
    with archive.member(file_name(name)) as stream, default_storage.open(name) as content:
        while piece := content.read(_BYTES_AT_ONCE):
            stream.write(piece)
            size += len(piece)
    return Member(stream.hexdigest(), size)


def _uploaded() -> Iterable[str]:
    """The names of the files that rows point to."""
    for model in kept_models():
        for each in kept_fields(model):
            if isinstance(each, models.FileField):
                names: Any = kept_rows(model).values_list(each.attname, flat=True).iterator()
                yield from (name for name in names if name)
