"""A photo from a phone: it follows the entry that it shows."""

from __future__ import annotations

import binascii
from base64 import b64decode
from uuid import UUID

from django.utils.translation import gettext as _

from inspections.models import (
    CounterReading,
    DeviceEntry,
    EntryOutcome,
    Fault,
    FaultTrace,
    Inspection,
    Visit,
)
from inspections.services.attachments import Received, Shown, keep_photo
from inspections.services.device_kinds.arriving import (
    Arrived,
    Became,
    EntryRefusedError,
    EntryTooEarlyError,
)

SHOWN_AS: dict[str, type[Shown]] = {
    "reading": CounterReading,
    "fault": Fault,
    "inspection": Inspection,
    "trace": FaultTrace,
    "visit": Visit,
}


def take_photo(entry: Arrived) -> Became:
    """A photo of what another entry of the same phone became."""
    try:
        content = b64decode(str(entry.fields.get("data", "")), validate=True)
    except binascii.Error as error:
        raise EntryRefusedError(_("The photo arrived damaged.")) from error
    received = Received(
        taken_at=entry.happened_at, entered_at=entry.received_at, entered_by=entry.author
    )
    photo = keep_photo(shows=_shown(entry), content=content, received=received)
    return {"attachment": photo.pk}


def _shown(entry: Arrived) -> Shown:
    try:
        key = UUID(str(entry.about.get("of", "")))
    except ValueError as error:
        raise EntryRefusedError(_("A photo shows an entry, and this one names none.")) from error
    shown = DeviceEntry.objects.filter(client_id=key).first()
    if shown is None:
        raise EntryTooEarlyError(_("What this photo shows has not arrived yet."))
    if shown.outcome == EntryOutcome.REFUSED:
        raise EntryRefusedError(
            _("What this photo shows was refused: correct that and send both again.")
        )
    for name, model in SHOWN_AS.items():
        if name in shown.result:
            return model._default_manager.get(pk=shown.result[name])
    raise EntryRefusedError(_("To this kind of entry no photo is kept."))
