"""Looks at a zip archive before anything is unpacked: names, sizes, tricks."""

import zipfile
from pathlib import Path, PurePosixPath

from django.utils.translation import gettext as _

from inspections.services.fleet_folder.errors import SourceRefusedError
from inspections.services.fleet_folder.limits import Limits

ENCRYPTED = 0x1
MAC_FORK = "__MACOSX"
# A workbook has no use for a document type; it is how XML grows or reads foreign files.
FORBIDDEN_XML = tuple(
    word.encode(code)
    for word in ("<!DOCTYPE", "<!ENTITY")
    for code in ("utf-8", "utf-16-le", "utf-16-be")
)
BLOCK = 1024 * 1024


def open_archive(path: Path, limits: Limits) -> zipfile.ZipFile:
    """Open an archive whose table of contents keeps the bounds."""
    try:
        archive = zipfile.ZipFile(path)
    except (zipfile.BadZipFile, OSError) as error:
        raise SourceRefusedError(path.name, _("is not a readable zip archive")) from error
    try:
        _check_contents(path.name, archive.infolist(), limits)
    except SourceRefusedError:
        archive.close()
        raise
    return archive


def _check_contents(name: str, members: list[zipfile.ZipInfo], limits: Limits) -> None:
    if len(members) > limits.files:
        raise SourceRefusedError(
            name,
            _("holds %(count)d files; at most %(most)d are read")
            % {"count": len(members), "most": limits.files},
        )
    size = sum(member.file_size for member in members)
    if size > limits.unpacked_bytes:
        raise SourceRefusedError(
            name,
            _("unpacks to %(size)d MB; at most %(most)d MB are read")
            % {"size": size >> 20, "most": limits.unpacked_bytes >> 20},
        )
    for member in members:
        if member.flag_bits & ENCRYPTED:
            raise SourceRefusedError(name, _("is encrypted; unlock it first"))
        if not is_inside(member.filename):
            raise SourceRefusedError(
                name,
                _("holds a file that would lie outside the folder: %(file)s")
                % {"file": member.filename},
            )


def is_inside(member: str) -> bool:
    """Whether a name in an archive stays below the folder it is unpacked to."""
    path = PurePosixPath(member.replace("\\", "/"))
    return not path.is_absolute() and ".." not in path.parts and ":" not in member


def refuse_document_types(name: str, archive: zipfile.ZipFile) -> None:
    """Refuse a workbook whose XML declares a document type or entities."""
    for member in archive.infolist():
        if not member.filename.endswith((".xml", ".rels")):
            continue
        with archive.open(member) as stream:
            tail = b""
            while block := stream.read(BLOCK):
                if any(word in tail + block for word in FORBIDDEN_XML):
                    raise SourceRefusedError(
                        name, _("holds XML with a document type, which no table needs")
                    )
                tail = block[-64:]


def table_members(archive: zipfile.ZipFile) -> dict[str, zipfile.ZipInfo]:
    """The files of the fleet folder by name: at the top, or in the one folder that was zipped."""
    files = {
        PurePosixPath(member.filename): member
        for member in archive.infolist()
        if not member.is_dir() and not member.filename.startswith(MAC_FORK)
    }
    tops = {path.parts[0] for path in files}
    depth = 2 if files and len(tops) == 1 and all(len(path.parts) > 1 for path in files) else 1
    return {path.name: member for path, member in files.items() if len(path.parts) == depth}
