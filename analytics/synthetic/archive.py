"""Zips a fleet folder so that the same tables give the same bytes."""

from pathlib import Path
from typing import Final
from zipfile import ZIP_DEFLATED, ZipFile, ZipInfo

EARLIEST: Final = (1980, 1, 1, 0, 0, 0)
"""The zip format knows no earlier moment; every file gets it, so that no clock is read."""


def zip_folder(source: Path, target: Path) -> None:
    """Put the files at the top of a folder into a zip, in the order of their names."""
    with ZipFile(target, "w", compression=ZIP_DEFLATED, compresslevel=9) as archive:
        for path in sorted(path for path in source.iterdir() if path.is_file()):
            entry = ZipInfo(path.name, date_time=EARLIEST)
            entry.compress_type = ZIP_DEFLATED
            entry.create_system = 3
            entry.external_attr = 0o644 << 16
            archive.writestr(entry, path.read_bytes(), compresslevel=9)
