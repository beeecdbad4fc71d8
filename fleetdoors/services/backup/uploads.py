"""Uploaded files out of a backup, into the folder where the program keeps them."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from tempfile import NamedTemporaryFile

from django.conf import settings
from django.core.exceptions import SuspiciousFileOperation
from django.utils._os import safe_join

from fleetdoors.services.backup.archive import ArchiveReader, BackupRefusedError


@contextmanager
def bring_files(archive: ArchiveReader) -> Iterator[None]:
    """Put the files in place for the block; where it fails, those that were new go again.

    They come before the rows that name them. Names hold the hash of the content, so that a file
    that is there already is the same one.
    """
    brought: list[Path] = []
    try:
        for name, member in archive.manifest.files.items():
            place = _place_of(name)
            if not place.exists() or place.stat().st_size != member.size:
                brought.append(place)
                _bring(archive, name, place)
        yield
    except BaseException:
        for place in brought:
            place.unlink(missing_ok=True)
        raise


def _place_of(name: str) -> Path:
    try:
        return Path(safe_join(settings.MEDIA_ROOT, name))
    except SuspiciousFileOperation as why:
        raise BackupRefusedError(
            f"The file holds {name!r}, which would lie outside the uploads. Nothing was done."
        ) from why


def _bring(archive: ArchiveReader, name: str, place: Path) -> None:
    place.parent.mkdir(parents=True, exist_ok=True)
    with archive.file(name) as content, NamedTemporaryFile(dir=place.parent, delete=False) as new:
        try:
            shutil.copyfileobj(content, new)
            new.flush()
            Path(new.name).chmod(0o644)
            Path(new.name).replace(place)
        except BaseException:
            Path(new.name).unlink(missing_ok=True)
            raise
