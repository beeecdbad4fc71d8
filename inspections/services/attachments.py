"""A photo that came with a driver's report, kept as it came under the hash of its content."""

from __future__ import annotations

import hashlib
from datetime import datetime
from typing import IO, Any

from django.core.files.base import ContentFile
from django.db import transaction
from django.utils.translation import gettext as _

from fleetdoors.models import User
from inspections.models import Attachment, DefectReport

PHOTO_LIMIT_BYTES = 12 * 2**20
_SUFFIXES = {"image/jpeg": ".jpg", "image/png": ".png", "image/webp": ".webp"}


class AttachmentRefusedError(ValueError):
    """The file is no picture of a size that is kept; nothing was stored."""


def photo_type(photo: IO[bytes]) -> str | None:
    """The type of a picture by its first bytes, None where it is none.

    The name and the sender's word say nothing.
    """
    photo.seek(0)
    head = photo.read(16)
    photo.seek(0)
    if head.startswith(b"\xff\xd8\xff"):
        return "image/jpeg"
    if head.startswith(b"\x89PNG\r\n\x1a\n"):
        return "image/png"
    return "image/webp" if head[:4] == b"RIFF" and head[8:12] == b"WEBP" else None


@transaction.atomic
def keep_photo(
    *,
    photo: Any,
    report: DefectReport,
    taken_at: datetime,
    entered_at: datetime,
    entered_by: User | None = None,
) -> Attachment:
    """Keep a picture with a driver's report; the same one twice is kept once."""
    content_type = photo_type(photo)
    if content_type is None or photo.size > PHOTO_LIMIT_BYTES:
        raise AttachmentRefusedError(
            _("A photo is a JPEG, PNG or WebP picture of at most %(limit)d MB; this is none.")
            % {"limit": PHOTO_LIMIT_BYTES // 2**20}
        )
    content = photo.read()
    digest = hashlib.sha256(content).hexdigest()
    same = Attachment.objects.filter(sha256=digest, defect_report=report).first()
    if same:
        return same
    return Attachment.objects.create(
        file=ContentFile(content, name=digest + _SUFFIXES[content_type]),
        sha256=digest,
        content_type=content_type,
        bytes_count=len(content),
        taken_at=taken_at,
        defect_report=report,
        entered_at=entered_at,
        entered_by=entered_by,
    )
