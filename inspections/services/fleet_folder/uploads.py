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
TOKEN = re.compile(r"[A-Za-z0-9_-]{16,64}")


class UploadGoneError(Exception):
    """There is no such upload of this person, or no more."""


def keep_upload(*, files: Sequence[UploadedFile], owner_id: int, now: datetime) -> str:
    """Keep an archive, a workbook or several CSV files; forget what the person kept before."""
    _forget(owner_id, now)
    token = secrets.token_urlsafe(24)
    folder = _imports() / token
    content = folder / "content"
    content.mkdir(parents=True)
    (folder / "owner").write_text(f"{owner_id} {now.timestamp()}")
    for file in files:
        with (content / Path(file.name or "").name).open("wb") as stream:
            for chunk in file.chunks():
                stream.write(chunk)
    return token


def kept_upload(*, token: str, owner_id: int) -> Path:
    """The folder, archive or workbook that the person uploaded."""
    folder = _imports() / token
    if not TOKEN.fullmatch(token) or _owner(folder) != owner_id:
        raise UploadGoneError(token)
    content = folder / "content"
    files = list(content.iterdir())
    is_one_file = len(files) == 1 and files[0].suffix.lower() in (".zip", ".xlsx")
    return files[0] if is_one_file else content


def _imports() -> Path:
    return Path(settings.DATA_DIR) / "imports"


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
