"""Photos that show something a person entered: a reading, a fault, an inspection, a trace."""

from __future__ import annotations

from datetime import datetime
from hashlib import sha256
from io import BytesIO

from django.core.files.base import ContentFile
from django.db import transaction
from django.utils.translation import gettext as _

from fleetdoors.models import User
from inspections.models import (
    Attachment,
    CounterReading,
    Fault,
    FaultTrace,
    Inspection,
    Visit,
)
from inspections.services.attachments import (
    PHOTO_LIMIT_BYTES,
    AttachmentRefusedError,
    photo_type,
)

Shown = CounterReading | Fault | FaultTrace | Inspection | Visit
COLUMNS: dict[type[Shown], str] = {
    CounterReading: "reading",
    Fault: "fault",
    FaultTrace: "trace",
    Inspection: "inspection",
    Visit: "visit",
}


@transaction.atomic
def keep_photo_of(
    *,
    shows: Shown,
    content: bytes,
    taken_at: datetime,
    entered_at: datetime,
    entered_by: User | None = None,
) -> Attachment:
    """Keep a photo of something on record; the same photo of the same thing is one."""
    kind = _checked_type(content)
    digest = sha256(content).hexdigest()
    column = COLUMNS[type(shows)]
    existing = Attachment.objects.filter(**{column: shows}, sha256=digest).first()
    if existing:
        return existing
    photo = Attachment(
        file=ContentFile(content, name=f"{digest}.{kind.removeprefix('image/')}"),
        sha256=digest,
        content_type=kind,
        bytes_count=len(content),
        taken_at=taken_at,
        entered_at=entered_at,
        entered_by=entered_by,
    )
    setattr(photo, column, shows)
    photo.save()
    return photo


def _checked_type(content: bytes) -> str:
    if len(content) > PHOTO_LIMIT_BYTES:
        raise AttachmentRefusedError(
            _("A photo has at most %(most)d kB: this one has %(size)d kB.")
            % {"most": PHOTO_LIMIT_BYTES // 1024, "size": len(content) // 1024}
        )
    kind = photo_type(BytesIO(content))
    if kind is None:
        raise AttachmentRefusedError(_("A photo is a JPEG, PNG or WebP picture: this is none."))
    return kind
