"""What a phone says about a visit: it began, a tick was set, who goes on, the final check."""

from __future__ import annotations

from django.utils.translation import gettext as _

from inspections.forms.visit import people_at_work
from inspections.models import FinalCheck, Tick, VisitState
from inspections.services.device_kinds.arriving import (
    Arrived,
    Became,
    EntryRefusedError,
    ended_otherwise,
)
from inspections.services.final_checks import record_final_check
from inspections.services.safety import set_tick, take_back_tick
from inspections.services.visits import hand_over_visit, open_visit


def take_visit_opened(entry: Arrived) -> Became:
    """The visit was begun by the entry's author."""
    visit = entry.visit()
    if visit is None:
        raise EntryRefusedError(_("This belongs to a visit, and names none."))
    if visit.state not in (VisitState.PLANNED, VisitState.OPEN):
        raise EntryRefusedError(
            _("Meanwhile this visit is “%(state)s”: it was not begun again.")
            % {"state": visit.get_state_display()},
            differences=ended_otherwise(visit),
        )
    opened = open_visit(visit=visit, technician=entry.author, started_at=entry.happened_at)
    return {"visit": opened.pk}


def take_tick(entry: Arrived) -> Became:
    """A safety tick was set, or skipped with a reason."""
    tick = entry.text("tick")
    reason = entry.text("skipped_reason")
    label = Tick(tick).label if tick in Tick.values else tick
    visit = entry.open_visit(said=reason or _("set"), what=str(label))
    set_tick(
        visit=visit,
        tick=tick,
        ticked_at=entry.happened_at,
        ticked_by=entry.author,
        skipped_reason=reason,
    )
    return {"visit": visit.pk}


def take_tick_back(entry: Arrived) -> Became:
    """A tick set by mistake was taken back; it stays on record."""
    tick = entry.text("tick")
    label = Tick(tick).label if tick in Tick.values else tick
    visit = entry.open_visit(said=_("taken back"), what=str(label))
    take_back_tick(
        visit=visit, tick=tick, taken_back_at=entry.happened_at, taken_back_by=entry.author
    )
    return {"visit": visit.pk}


def take_final_check(entry: Arrived) -> Became:
    """The five items of the final check."""
    visit = entry.open_visit(said=_("made"), what=_("Final check"))
    record_final_check(
        visit=visit,
        items={name: entry.is_ticked(name) for name in FinalCheck.ITEMS},
        checked_at=entry.happened_at,
        checked_by=entry.author,
        entered_at=entry.received_at,
        note=entry.text("note"),
    )
    return {"visit": visit.pk}


def take_handover(entry: Arrived) -> Became:
    """The visit passed to the next person, with a word on where it stands."""
    key = entry.text("to_person")
    person = people_at_work().filter(pk=int(key)).first() if key.isdecimal() else None
    visit = entry.open_visit(said=str(person or key), what=_("Handed to"))
    if person is None:
        raise EntryRefusedError(
            _("Say to whom the visit passes: “%(key)s” is nobody.") % {"key": key}
        )
    handed = hand_over_visit(
        visit=visit, to_person=person, note=entry.text("note")[:500], handed_at=entry.happened_at
    )
    return {"visit": handed.pk}
