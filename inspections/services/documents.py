"""Documents of a door type: the shop uploads a PDF, replaces it, withdraws it; none is deleted."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction
from django.utils.translation import gettext as _

from fleetdoors.models import DoorModel, User
from inspections.models import Attachment
from inspections.services.attachments import AttachmentRefusedError, Received, new_file

DOCUMENT_LIMIT_BYTES = 25 * 2**20
# Readers look for the mark within the first 1,024 bytes, and for the end in the last ones
# (ISO 32000-1, annex H of the older reference, from memory).
MARK, MARK_WITHIN, END_MARK, END_WITHIN = b"%PDF-", 1024, b"%%EOF", 2048


@transaction.atomic
def add_document(
    *,
    door_model: DoorModel,
    title: str,
    content: bytes,
    received: Received,
    replaces: Attachment | None = None,
) -> Attachment:
    """Keep a PDF for a door type; one that it replaces stays on record. The same again is one."""
    DoorModel.objects.select_for_update().get(pk=door_model.pk)
    _check(title, content)
    document = new_file(content, "application/pdf", received)
    in_force = Attachment.objects.documents_of(door_model)
    same = in_force.filter(sha256=document.sha256).first()
    if same:
        return same
    if replaces:
        _end(replaces, _("replaced by a newer one"), received.entered_at, received.entered_by)
    document.door_model, document.title = door_model, title.strip()[:200]
    document.replaces = replaces
    document.save()
    return document


@transaction.atomic
def withdraw_document(
    *, document: Attachment, reason: str, withdrawn_at: datetime, withdrawn_by: User
) -> Attachment:
    """Take a document from the shelf; it stays on record. Withdrawn twice, it is withdrawn once."""
    if not reason.strip():
        raise AttachmentRefusedError(_("A document is withdrawn with a reason: it is empty."))
    document = Attachment.objects.select_for_update(of=("self",)).get(pk=document.pk)
    if document.withdrawn_at is None:
        _end(document, reason, withdrawn_at, withdrawn_by)
    return document


def _end(document: Attachment, reason: str, moment: datetime, by: User | None) -> None:
    ended = Attachment.objects.filter(pk=document.pk, withdrawn_at__isnull=True).update(
        withdrawn_at=moment, withdrawn_by=by, withdrawal_reason=reason.strip()[:200]
    )
    if not ended:
        raise AttachmentRefusedError(
            _("This document gave way before: replace the one that is in its place.")
        )
    document.refresh_from_db()


def _check(title: str, content: bytes) -> None:
    if not title.strip():
        raise AttachmentRefusedError(_("A document has a title: it is empty."))
    if len(content) > DOCUMENT_LIMIT_BYTES:
        raise AttachmentRefusedError(
            _("A document has at most %(most)d MB: this one has %(size).1f MB.")
            % {"most": DOCUMENT_LIMIT_BYTES // 2**20, "size": len(content) / 2**20}
        )
    if MARK not in content[:MARK_WITHIN] or END_MARK not in content[-END_WITHIN:]:
        raise AttachmentRefusedError(
            _("A document is a whole PDF: this file does not begin and end like one.")
        )
