"""Backups as other versions, other hands and bad disks would leave them."""

from __future__ import annotations

import hashlib
import json
from pathlib import Path

from django.db.migrations.loader import MigrationLoader

from fleetdoors.services.backup.archive import (
    ArchiveReader,
    ArchiveWriter,
    Manifest,
    Member,
    table_name,
)

Rows = list[list[object]]
OTHER_APPS = ("admin", "auth", "axes", "contenttypes", "sessions")
REGISTRY = {
    f"fleetdoors.{name}" for name in ("Depot", "DoorModel", "DoorUnit", "Mounting", "Truck")
}


def tables_of(path: Path) -> dict[str, Rows]:
    """Every table of a backup: its columns, then its rows."""
    archive = ArchiveReader(path)
    found = {}
    for label in archive.manifest.tables:
        with archive.table(label) as lines:
            found[label] = [json.loads(line) for line in lines]
    archive.close()
    return found


def digests_of(path: Path) -> dict[str, str]:
    """The digest of every table and file of a backup."""
    archive = ArchiveReader(path)
    archive.close()
    members = {**archive.manifest.tables, **archive.manifest.files}
    return {name: member.sha256 for name, member in members.items()}


def write_file(path: Path, tables: dict[str, Rows], migrations: list[list[str]]) -> Path:
    """A backup that holds these tables, every digest right."""
    manifest = Manifest(made_at="2026-03-01T00:00:00+00:00", engine="sqlite", migrations=migrations)
    with path.open("wb") as stream:
        archive = ArchiveWriter(stream)
        for label, rows in tables.items():
            text = "".join(json.dumps(row) + "\n" for row in rows).encode()
            with archive.member(table_name(label)) as member:
                member.write(text)
            digest = hashlib.sha256(text).hexdigest()
            manifest.tables[label] = Member(digest, len(rows) - 1)
        archive.close(manifest)
    return path


def as_of_first_migration(path: Path, older: Path) -> Path:
    """Depots, trucks and doors as a version would have written them that knew no more.

    What a later migration brings, and what hangs on it, is not in such a file.
    """
    loader = MigrationLoader(None)
    first = ("fleetdoors", "0001_initial")
    leaves = [first, *(leaf for leaf in loader.graph.leaf_nodes() if leaf[0] in OTHER_APPS)]
    plan = {key for leaf in leaves for key in loader.graph.forwards_plan(leaf)}
    state = loader.project_state(leaves)
    tables = tables_of(path)
    kept = {}
    for model in state.apps.get_models(include_auto_created=True):
        label = model._meta.label
        if label not in tables:
            continue
        names = [each.attname for each in model._meta.concrete_fields]
        columns = tables[label][0]
        places = [columns.index(name) for name in names]
        rows = tables[label] if label in REGISTRY else tables[label][:1]
        kept[label] = [[row[place] for place in places] for row in rows]
    return write_file(older, kept, sorted([list(key) for key in plan]))
