"""Keeps what a person uploaded until they have looked at it and confirmed."""

from __future__ import annotations

import re
import secrets
import shutil
from collections.abc import Sequence
from datetime import datetime, timedelta
from pathlib import Path

from django.conf import settings
from django.core.files.uploadedfile import UploadedFile

KEPT_FOR = timedelta(days=1)
CONTENT = "content"
TOKEN = re.compile(r"[A-Za-z0-9_-]{16,64}")


class UploadGoneError(Exception):
    """There is no such upload of this person, or no more."""


def keep_upload(*, files: Sequence[UploadedFile], owner_id: int, now: datetime) -> str:
    """Keep an archive, a workbook or several CSV files; forget what the person kept before."""
    _forget(owner_id, now)
    token = _new_folder(owner_id, now)
    content = folder_of(token) / CONTENT
    for file in files:
        with (content / Path(file.name or "").name).open("wb") as stream:
            for chunk in file.chunks():
                stream.write(chunk)
    return token


def keep_room(*, owner_id: int, now: datetime) -> str:
    """Make room for what will be written for a person; forget what the person kept before."""
    _forget(owner_id, now)
    return _new_folder(owner_id, now)


def _new_folder(owner_id: int, now: datetime) -> str:
    token = secrets.token_urlsafe(24)
    (folder_of(token) / CONTENT).mkdir(parents=True)
    (folder_of(token) / "owner").write_text(f"{owner_id} {now.timestamp()}")
    return token


def kept_upload(*, token: str, owner_id: int) -> Path:
    """The folder, archive or workbook that the person uploaded."""
    if not TOKEN.fullmatch(token) or _owner(folder_of(token)) != owner_id:
        raise UploadGoneError(token)
    return content_of(token)


def folder_of(token: str) -> Path:
    """Where everything about an upload lies."""
    return _imports() / token


def bytes_kept(token: str) -> int:
    """How large the upload is."""
    files = (folder_of(token) / CONTENT).iterdir()
    return sum(file.stat().st_size for file in files)


def content_of(token: str) -> Path:
    """The folder, archive or workbook itself."""
    content = folder_of(token) / CONTENT
    files = list(content.iterdir())
    is_one_file = len(files) == 1 and files[0].suffix.lower() in (".zip", ".xlsx")
    return files[0] if is_one_file else content


def _imports() -> Path:
    # In the folder of uploads: a worker on another host reads what a web server kept.
    return Path(settings.MEDIA_ROOT) / "imports"


def _owner(folder: Path) -> int | None:
    marker = folder / "owner"
    return int(marker.read_text().split()[0]) if marker.is_file() else None


def _forget(owner_id: int, now: datetime) -> None:
    """Remove the person's uploads, and anybody's that nobody came back to."""
    root = _imports()
    root.mkdir(parents=True, exist_ok=True)
    for folder in root.iterdir():
        marker = folder / "owner"
        if not marker.is_file():
            continue
        owner, kept_at = marker.read_text().split()
        is_old = now.timestamp() - float(kept_at) > KEPT_FOR.total_seconds()
        if is_old or int(owner) == owner_id:
            shutil.rmtree(folder, ignore_errors=True)
