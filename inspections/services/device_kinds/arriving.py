"""An entry of a phone as its reader gets it, and what a reader may say of it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID

from django.utils.translation import gettext as _

from fleetdoors.models import DoorUnit, User
from inspections.models import DeviceEntry, EntryOutcome, Visit, VisitState
from inspections.moments import in_words

# What an entry became: the kind of row and its key, such as {"reading": 17}.
Became = dict[str, int]


@dataclass(frozen=True)
class Difference:
    """One thing that the phone says otherwise than the record."""

    label: str
    here: str
    there: str


class EntryRefusedError(ValueError):
    """The entry cannot be taken as it stands; `differences` tell both sides of a conflict."""

    def __init__(self, message: str, *, differences: Sequence[Difference] = ()) -> None:
        super().__init__(message)
        self.differences = differences


class EntryTooEarlyError(ValueError):
    """The entry cannot be taken yet, and may be later: it stays on the phone."""


@dataclass(frozen=True)
class Arrived:
    """What an entry is about, what was typed, when (by a clock put right), and by whom."""

    about: Mapping[str, Any]
    fields: Mapping[str, Any]
    happened_at: datetime
    received_at: datetime
    author: User

    def text(self, name: str) -> str:
        """A field as typed, empty when it was left out."""
        value = self.fields.get(name)
        return value.strip() if isinstance(value, str) else ""

    def is_ticked(self, name: str) -> bool:
        """Whether a box was ticked: a browser sends no box that was not."""
        return self.text(name).lower() not in ("", "false", "0", "no")

    def door(self) -> DoorUnit:
        """The door the entry is about, among those its author may see; queries."""
        serial = str(self.about.get("door", ""))
        doors = DoorUnit.objects.visible_to(self.author).select_related("door_model")
        door = doors.filter(serial=serial).first()
        if door is None:
            raise EntryRefusedError(
                _("Door “%(door)s” is not among those that %(person)s may see.")
                % {"door": serial, "person": self.author}
            )
        return door

    def visit(self) -> Visit | None:
        """The visit the entry belongs to, None when it names none; queries.

        One that was begun on the phone has no number there: it is named by the entry that began it.
        """
        key = str(self.about.get("visit") or "")
        if not key and self.about.get("visit_of"):
            key = str(_visit_begun_by(str(self.about["visit_of"])))
        if not key:
            return None
        visits = Visit.objects.visible_to(self.author).with_links()
        visit = visits.filter(pk=int(key)).first() if key.isdecimal() else None
        if visit is None:
            raise EntryRefusedError(
                _("Visit %(visit)s is not among those that %(person)s may see.")
                % {"visit": key, "person": self.author}
            )
        return visit

    def open_visit(self, *, said: str, what: str) -> Visit:
        """The open visit of the entry; one that has ended is told side by side with the entry."""
        visit = self.visit()
        if visit is None:
            raise EntryRefusedError(_("This belongs to a visit, and names none."))
        if visit.state != VisitState.OPEN:
            raise EntryRefusedError(
                _("Meanwhile this visit is “%(state)s”: nothing was changed.")
                % {"state": visit.get_state_display()},
                differences=[*ended_otherwise(visit), Difference(what, said, _("not taken"))],
            )
        return visit


def _visit_begun_by(client_id: str) -> int:
    """The visit that another entry of the phone became; queries."""
    try:
        first = DeviceEntry.objects.filter(client_id=UUID(client_id)).first()
    except ValueError as error:
        raise EntryRefusedError(
            _("A visit is named by the entry that began it: “%(id)s” is none.") % {"id": client_id}
        ) from error
    if first is None:
        raise EntryTooEarlyError(_("The visit that this belongs to has not arrived yet."))
    if first.outcome == EntryOutcome.REFUSED or "visit" not in first.result:
        raise EntryRefusedError(
            _("The visit that this belongs to was refused: correct that, and this goes with it.")
        )
    return int(first.result["visit"])


def ended_otherwise(visit: Visit) -> list[Difference]:
    """What the record says of a visit that the phone still holds open."""
    still_open = _("open")
    told = [Difference(_("Visit"), still_open, str(visit.get_state_display()))]
    if visit.closed_at:
        moment = in_words(visit.closed_at)
        told.append(Difference(_("Closed at"), "–", moment))
        told.append(Difference(_("Signed by"), "–", visit.signed_by))
    if visit.technician:
        told.append(Difference(_("In hand of"), "–", str(visit.technician)))
    return told
