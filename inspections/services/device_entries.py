"""Entries made on a phone without signal are taken once, in order, one at a time."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from datetime import datetime
from typing import Any
from uuid import UUID

from django.db import IntegrityError, transaction
from django.utils.translation import gettext as _

from fleetdoors.models import User
from inspections.models import DeviceEntry, EntryOutcome
from inspections.services.attachments import AttachmentRefusedError
from inspections.services.corrections import CorrectionRefusedError
from inspections.services.device_authors import author_of
from inspections.services.device_kinds import READERS
from inspections.services.device_kinds.arriving import (
    Arrived,
    Became,
    EntryRefusedError,
    EntryTooEarlyError,
)
from inspections.services.faults import FaultRefusedError
from inspections.services.fitting import FittingRefusedError
from inspections.services.inspecting import InspectionRefusedError
from inspections.services.readings import ReadingRefusedError
from inspections.services.safety import TickRefusedError
from inspections.services.tracing import TraceRefusedError
from inspections.services.visits import VisitRefusedError

REFUSALS = (
    EntryRefusedError,
    AttachmentRefusedError,
    CorrectionRefusedError,
    FaultRefusedError,
    FittingRefusedError,
    InspectionRefusedError,
    ReadingRefusedError,
    TickRefusedError,
    TraceRefusedError,
    VisitRefusedError,
)
LONGEST_REFUSAL = 500
# Kept as a file, not a second time as text.
KEPT_ELSEWHERE = ("data",)


@dataclass(frozen=True)
class SentEntry:
    """An entry as a phone sends it; `phone_now` is what its clock showed while sending."""

    client_id: UUID
    kind: str
    version: int
    about: Mapping[str, Any]
    fields: Mapping[str, Any]
    happened_at: datetime
    phone_now: datetime
    author_word: str


def read_entry(raw: Any) -> SentEntry:
    """The entry in what was sent; EntryRefusedError says what is missing."""
    if not isinstance(raw, dict):
        raise EntryRefusedError(_("An entry is a set of named values."))
    content = _part(raw, "payload")
    return SentEntry(
        client_id=_key(raw.get("client_id")),
        kind=str(raw.get("kind", ""))[:30],
        version=_version(raw.get("version")),
        about=_part(content, "about"),
        fields=_part(content, "fields"),
        happened_at=_moment(raw, "happened_at"),
        phone_now=_moment(raw, "phone_now"),
        author_word=str(raw.get("author") or ""),
    )


def take_entry(*, sent: SentEntry, sender: User, received_at: datetime) -> DeviceEntry:
    """Take an entry, or keep why it was refused; the same one again gets the same answer."""
    known = DeviceEntry.objects.filter(client_id=sent.client_id).first()
    if known:
        return known
    if (sent.kind, sent.version) not in READERS:
        raise EntryTooEarlyError(
            _("This server does not know “%(kind)s” of version %(version)d yet.")
            % {"kind": sent.kind, "version": sent.version}
        )
    try:
        return _take(sent, sender, received_at)
    except IntegrityError:
        # The same entry came in twice at one time: the other one was first.
        known = DeviceEntry.objects.filter(client_id=sent.client_id).first()
        if known is None:
            raise
        return known


def put_right(sent: SentEntry, received_at: datetime) -> datetime:
    """When it happened by the server's clock, never later than its arrival.

    The phone's clock is wrong by as much now as it was then, unless it was set in between.
    """
    return min(sent.happened_at + (received_at - sent.phone_now), received_at)


def _take(sent: SentEntry, sender: User, received_at: datetime) -> DeviceEntry:
    author = sender
    try:
        author = author_of(sent.author_word, sender=sender)
        with transaction.atomic():
            became = READERS[sent.kind, sent.version](
                Arrived(
                    about=sent.about,
                    fields=sent.fields,
                    happened_at=put_right(sent, received_at),
                    received_at=received_at,
                    author=author,
                )
            )
            return _stored(_row(sent, author, received_at), became, sender)
    except REFUSALS as refused:
        return _refused(_row(sent, author, received_at), refused)


def _row(sent: SentEntry, author: User, received_at: datetime) -> DeviceEntry:
    fields = {name: each for name, each in sent.fields.items() if name not in KEPT_ELSEWHERE}
    return DeviceEntry(
        client_id=sent.client_id,
        kind=sent.kind,
        payload={"about": dict(sent.about), "fields": fields},
        payload_version=sent.version,
        phone_now=sent.phone_now,
        happened_at_raw=sent.happened_at,
        happened_at=put_right(sent, received_at),
        received_at=received_at,
        author=author,
    )


def _stored(row: DeviceEntry, became: Became, sender: User) -> DeviceEntry:
    row.outcome = EntryOutcome.STORED
    row.result = became if sender == row.author else {**became, "sent_by": sender.pk}
    row.save(force_insert=True)
    return row


def _refused(row: DeviceEntry, refused: ValueError) -> DeviceEntry:
    differences = refused.differences if isinstance(refused, EntryRefusedError) else ()
    row.outcome = EntryOutcome.REFUSED
    row.refusal = str(refused)[:LONGEST_REFUSAL]
    row.result = {"differences": [asdict(each) for each in differences]} if differences else {}
    row.save(force_insert=True)
    return row


def _part(raw: Mapping[str, Any], name: str) -> Mapping[str, Any]:
    part = raw.get(name, {})
    if not isinstance(part, dict):
        raise EntryRefusedError(_("“%(name)s” is a set of named values.") % {"name": name})
    return part


def _key(value: Any) -> UUID:
    try:
        return UUID(str(value))
    except ValueError as error:
        raise EntryRefusedError(
            _("An entry has the phone's own id: “%(value)s” is none.") % {"value": value}
        ) from error


def _version(value: Any) -> int:
    if isinstance(value, bool) or not isinstance(value, int) or not 1 <= value <= 1000:
        raise EntryRefusedError(
            _("The version of an entry is a number from 1: “%(value)s”.") % {"value": value}
        )
    return value


def _moment(raw: Mapping[str, Any], name: str) -> datetime:
    try:
        moment = datetime.fromisoformat(str(raw.get(name)))
    except ValueError as error:
        raise EntryRefusedError(
            _("“%(name)s” is a moment: “%(value)s” is none.")
            % {"name": name, "value": raw.get(name)}
        ) from error
    if moment.tzinfo is None:
        raise EntryRefusedError(_("“%(name)s” says its offset from UTC.") % {"name": name})
    return moment
