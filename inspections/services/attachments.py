"""Files are kept under the hash of their content; what they are, their first bytes say."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from datetime import datetime

from django.core.files.base import ContentFile
from django.db import transaction
from django.utils.translation import gettext as _

from fleetdoors.models import DoorModel, User
from inspections.models import (
    Attachment,
    CounterReading,
    DefectReport,
    Fault,
    FaultTrace,
    Inspection,
    Visit,
)
from inspections.picture_size import picture_size

Shown = CounterReading | DefectReport | Fault | FaultTrace | Inspection | Visit
COLUMNS: dict[type[Shown | DoorModel], str] = {
    CounterReading: "reading",
    DefectReport: "defect_report",
    DoorModel: "door_model",
    Fault: "fault",
    FaultTrace: "trace",
    Inspection: "inspection",
    Visit: "visit",
}
PHOTO_LIMIT_BYTES = 12 * 2**20
# A phone's largest pictures have some 50 megapixels; a few kB can unfold to thousands.
PHOTO_LIMIT_PIXELS = 64_000_000
HEAD_BYTES = 16
_SUFFIXES = {
    "image/jpeg": "jpg",
    "image/png": "png",
    "image/webp": "webp",
    "application/pdf": "pdf",
}


class AttachmentRefusedError(ValueError):
    """The file is none that is kept here; nothing was stored."""


@dataclass(frozen=True)
class Received:
    """When a file was made and came in, and by whom."""

    taken_at: datetime
    entered_at: datetime
    entered_by: User | None = None


def photo_type(head: bytes) -> str | None:
    """The type of a picture by its first bytes, None where it is none.

    The name and the sender's word say nothing.
    """
    if head.startswith(b"\xff\xd8\xff"):
        return "image/jpeg"
    if head.startswith(b"\x89PNG\r\n\x1a\n"):
        return "image/png"
    return "image/webp" if head[:4] == b"RIFF" and head[8:12] == b"WEBP" else None


def refuse_vast_picture(content: bytes) -> None:
    """Refuse a picture that unfolds to more pixels than a phone's camera has."""
    width, height = picture_size(content) or (0, 0)
    if width * height > PHOTO_LIMIT_PIXELS:
        raise AttachmentRefusedError(
            _("A photo has at most %(most)d megapixels: this one unfolds to %(size)d.")
            % {"most": PHOTO_LIMIT_PIXELS // 10**6, "size": width * height // 10**6}
        )


@transaction.atomic
def keep_photo(*, shows: Shown, content: bytes, received: Received) -> Attachment:
    """Keep a photo of something on record; the same photo of the same thing is one."""
    column = {COLUMNS[type(shows)]: shows}
    photo = new_file(content, _checked_type(content), received)
    existing = Attachment.objects.filter(**column, sha256=photo.sha256).first()
    if existing:
        return existing
    for name, shown in column.items():
        setattr(photo, name, shown)
    photo.save()
    return photo


def new_file(content: bytes, content_type: str, received: Received) -> Attachment:
    """A file not saved yet, named by its own hash."""
    digest = hashlib.sha256(content).hexdigest()
    return Attachment(
        file=ContentFile(content, name=f"{digest}.{_SUFFIXES[content_type]}"),
        sha256=digest,
        content_type=content_type,
        bytes_count=len(content),
        taken_at=received.taken_at,
        entered_at=received.entered_at,
        entered_by=received.entered_by,
    )


def _checked_type(content: bytes) -> str:
    if len(content) > PHOTO_LIMIT_BYTES:
        raise AttachmentRefusedError(
            _("A photo has at most %(most)d kB: this one has %(size)d kB.")
            % {"most": PHOTO_LIMIT_BYTES // 1024, "size": len(content) // 1024}
        )
    kind = photo_type(content[:HEAD_BYTES])
    if kind is None:
        raise AttachmentRefusedError(_("A photo is a JPEG, PNG or WebP picture: this is none."))
    refuse_vast_picture(content)
    return kind
