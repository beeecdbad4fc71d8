"""What is coming is announced, and cancelled with a reason; nothing is altered."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from django.db import transaction
from django.utils.translation import gettext as _

from fleetdoors.models import Depot, DoorModel, Part, User
from fleetdoors.services.recomputation import outlooks_changed
from inspections.models import AnnouncedChange, AnnouncedKind
from inspections.models.announced_change import LEAST_FACTOR, MOST_FACTOR


class AnnouncementRefusedError(ValueError):
    """The change cannot be announced or cancelled as asked; `field` names what to look at."""

    def __init__(self, message: str, *, field: str) -> None:
        super().__init__(message)
        self.field = field


@dataclass(frozen=True)
class Announcement:
    """What a person says is coming; what the kind does not need is left out."""

    kind: str
    from_on: date
    note: str
    depot: Depot | None = None
    until_on: date | None = None
    door_model: DoorModel | None = None
    doors: int | None = None
    cycles_per_day: float | None = None
    route_kind: str = ""
    factor: float | None = None
    part: Part | None = None
    new_part: Part | None = None
    pieces_per_door: int | None = None


@transaction.atomic
def announce(
    *, said: Announcement, entered_at: datetime, entered_by: User | None = None
) -> AnnouncedChange:
    """Keep an announced change, and ask for the forecasts of parts anew."""
    row = announced_row(said=said, entered_at=entered_at, entered_by=entered_by)
    row.save()
    outlooks_changed()
    return row


def announced_row(
    *, said: Announcement, entered_at: datetime, entered_by: User | None = None
) -> AnnouncedChange:
    """The change as it would be kept, not yet saved; refused for the same reasons."""
    _check(said, entered_at)
    return AnnouncedChange(
        kind=said.kind,
        note=said.note.strip()[:200],
        entered_at=entered_at,
        entered_by=entered_by,
        **{name: getattr(said, name) for name in _OF_KIND[said.kind]},
    )


@transaction.atomic
def cancel_announced(
    *, change: AnnouncedChange, reason: str, at: datetime, by: User | None = None
) -> AnnouncedChange:
    """Take a change out of every forecast from now on; it stays on record with the reason."""
    change = AnnouncedChange.objects.select_for_update().get(pk=change.pk)
    if not change.is_standing:
        raise AnnouncementRefusedError(_("This was cancelled before."), field="reason")
    if not reason.strip():
        raise AnnouncementRefusedError(_("Say why: the reason is empty."), field="reason")
    change.cancelled_at, change.cancelled_by = at, by
    change.cancelled_because = reason.strip()[:200]
    change.save(update_fields=("cancelled_at", "cancelled_by", "cancelled_because"))
    outlooks_changed()
    return change


_OF_KIND = {
    AnnouncedKind.TRUCKS.value: ("depot", "from_on", "door_model", "doors", "cycles_per_day"),
    AnnouncedKind.USE.value: ("depot", "from_on", "until_on", "route_kind", "factor"),
    AnnouncedKind.CAMPAIGN.value: (
        "depot", "from_on", "until_on", "part", "new_part", "doors", "pieces_per_door",
    ),
}  # fmt: skip
_NEEDED = {
    AnnouncedKind.TRUCKS.value: ("depot", "door_model", "doors", "cycles_per_day"),
    AnnouncedKind.USE.value: ("factor",),
    AnnouncedKind.CAMPAIGN.value: (
        "depot", "until_on", "part", "new_part", "doors", "pieces_per_door",
    ),
}  # fmt: skip


def _check(said: Announcement, entered_at: datetime) -> None:
    if said.kind not in _NEEDED:
        raise AnnouncementRefusedError(_("Say what is coming."), field="kind")
    for name in _NEEDED[said.kind]:
        if getattr(said, name) is None:
            raise AnnouncementRefusedError(_("This is needed to work it out."), field=name)
    if not said.note.strip():
        raise AnnouncementRefusedError(_("Say who says so, and why."), field="note")
    for name in ("doors", "pieces_per_door", "cycles_per_day"):
        value = getattr(said, name)
        if value is not None and value <= 0:
            raise AnnouncementRefusedError(
                _("This is above 0: %(value)s was entered.") % {"value": value}, field=name
            )
    _check_factor(said)
    _check_days(said, entered_at)
    _check_parts(said)


def _check_factor(said: Announcement) -> None:
    if said.factor is not None and not LEAST_FACTOR <= said.factor <= MOST_FACTOR:
        raise AnnouncementRefusedError(
            _("Use changes by a factor from %(least)s to %(most)s: %(value)s was entered.")
            % {"least": LEAST_FACTOR, "most": MOST_FACTOR, "value": said.factor},
            field="factor",
        )


def _check_days(said: Announcement, entered_at: datetime) -> None:
    if said.until_on and said.until_on < said.from_on:
        raise AnnouncementRefusedError(
            _("It ends on its first day or later: %(until)s lies before %(since)s.")
            % {"until": said.until_on, "since": said.from_on},
            field="until_on",
        )
    if said.until_on and said.until_on < entered_at.date():
        raise AnnouncementRefusedError(
            _("What is over is not announced: %(until)s has passed.") % {"until": said.until_on},
            field="until_on",
        )


def _check_parts(said: Announcement) -> None:
    """A campaign puts a part of the same component in another's place."""
    if said.kind != AnnouncedKind.CAMPAIGN or not said.part or not said.new_part:
        return
    if said.part.component_id != said.new_part.component_id:
        raise AnnouncementRefusedError(
            _("%(new)s does not take the place of %(old)s: it is another component.")
            % {"new": said.new_part, "old": said.part},
            field="new_part",
        )
