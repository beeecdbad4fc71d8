"""The file of a backup: members, each with its digest, and a manifest that vouches for them."""

from __future__ import annotations

import hashlib
import json
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import asdict, dataclass, field
from io import BufferedReader
from pathlib import Path
from typing import IO, Any, Self
from zipfile import ZIP_DEFLATED, BadZipFile, ZipFile

# Raised when a program of today could no longer read the file; migrations do not raise it.
FORMAT = 1
MANIFEST = "manifest.json"
# Rows shrink to a fifth already at the quickest level; the next levels cost more than they save.
_COMPRESSION = 1
_CHUNK = 2**20
_VOUCHER = "manifest sha256 "


class BackupRefusedError(Exception):
    """A backup or a restore that was not done; the message says why and what stands."""


@dataclass(frozen=True)
class Member:
    """A member of the archive: its digest, and its rows or bytes."""

    sha256: str
    size: int


@dataclass(frozen=True)
class Manifest:
    """What a backup holds, and the migrations behind its tables."""

    made_at: str
    engine: str
    migrations: list[list[str]]
    tables: dict[str, Member] = field(default_factory=dict)
    files: dict[str, Member] = field(default_factory=dict)
    missing_files: list[str] = field(default_factory=list)
    format: int = FORMAT

    @property
    def rows(self) -> int:
        """Rows of all tables."""
        return sum(member.size for member in self.tables.values())


def table_name(label: str) -> str:
    """The member that holds a table."""
    return f"tables/{label}.jsonl"


def file_name(name: str) -> str:
    """The member that holds an uploaded file."""
    return f"files/{name}"


class Digested:
    """Writes to a member and keeps the digest of what was written."""

    def __init__(self, stream: IO[bytes]) -> None:
        self._stream = stream
        self._digest = hashlib.sha256()

    def write(self, content: bytes) -> None:
        """Write a piece."""
        self._digest.update(content)
        self._stream.write(content)

    def hexdigest(self) -> str:
        """The digest of all pieces so far."""
        return self._digest.hexdigest()


class ArchiveWriter:
    """Writes members one after another; the manifest comes last."""

    def __init__(self, stream: IO[bytes]) -> None:
        self._zip = ZipFile(stream, "w", ZIP_DEFLATED, compresslevel=_COMPRESSION)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, kind: type[BaseException] | None, *_what: object) -> None:
        if kind is not None:
            # Its file is thrown away: nothing is to be written to it when this is collected.
            self._zip.fp = None

    @contextmanager
    def member(self, name: str) -> Iterator[Digested]:
        """A new member, open for writing."""
        with self._zip.open(name, "w", force_zip64=True) as stream:
            yield Digested(stream)

    def close(self, manifest: Manifest) -> None:
        """Write the manifest and what vouches for it, and end the archive."""
        text = json.dumps(asdict(manifest), indent=1).encode()
        with self.member(MANIFEST) as stream:
            stream.write(text)
        self._zip.comment = (_VOUCHER + hashlib.sha256(text).hexdigest()).encode()
        self._zip.close()


class ArchiveReader:
    """Reads a backup whose every byte is vouched for; anything else is refused."""

    def __init__(self, path: Path) -> None:
        self._path = path
        with self._refusing():
            self._zip = ZipFile(path)
        self.manifest = self._read_manifest()

    def _read_manifest(self) -> Manifest:
        with self._refusing():
            text = self._zip.read(MANIFEST)
            digest = hashlib.sha256(text).hexdigest()
            if self._zip.comment.decode("ascii", "replace") != _VOUCHER + digest:
                raise BadZipFile("the manifest is not the one that was written")
            given = json.loads(text)
        if given["format"] > FORMAT:
            raise BackupRefusedError(
                f"{self._path} was made by a newer version of the program (form "
                f"{given['format']}; this version reads up to {FORMAT}). Nothing was done."
            )
        return Manifest(**{**given, "tables": _members(given, "tables"),
                           "files": _members(given, "files")})  # fmt: skip

    def verify(self) -> None:
        """Read every member and compare its digest; a difference is refused."""
        wanted = {table_name(label): each for label, each in self.manifest.tables.items()}
        wanted |= {file_name(name): each for name, each in self.manifest.files.items()}
        with self._refusing():
            for name, member in wanted.items():
                digest = hashlib.sha256()
                with self._zip.open(name) as stream:
                    while piece := stream.read(_CHUNK):
                        digest.update(piece)
                if digest.hexdigest() != member.sha256:
                    raise BadZipFile(f"{name} is not what was written")

    def table(self, label: str) -> BufferedReader:
        """The lines of a table."""
        return BufferedReader(self._zip.open(table_name(label)), _CHUNK)  # type: ignore[arg-type]

    def file(self, name: str) -> IO[bytes]:
        """The content of an uploaded file."""
        return self._zip.open(file_name(name))

    def close(self) -> None:
        """Close the file."""
        self._zip.close()

    @contextmanager
    def _refusing(self) -> Iterator[None]:
        """Turn whatever a damaged archive raises into one refusal."""
        try:
            yield
        except (BadZipFile, KeyError, ValueError, EOFError, zlib.error, NotImplementedError) as why:
            raise BackupRefusedError(
                f"{self._path} is damaged or is no backup of this program ({why}). "
                "Nothing was done."
            ) from why


def _members(given: dict[str, Any], kind: str) -> dict[str, Member]:
    return {name: Member(**member) for name, member in given[kind].items()}
