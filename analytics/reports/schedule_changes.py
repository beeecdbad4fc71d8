"""A proposal beside what is planned: each change, from where to where, and why."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from django.utils.translation import gettext as _

from analytics.reports.schedule_words import why_in, why_left_out
from analytics.scheduling.board import Board, BoardVisit
from fleetdoors.models import Depot
from fleetdoors.templatetags.units import short_day
from inspections.models import PlanChange, Visit
from inspections.services.plan_changes import Change, PlannedVisit, changes_between
from inspections.services.planning import planned_visits


@dataclass(frozen=True)
class ChangeRow:
    """A change in words."""

    change: PlanChange
    truck: str
    door: str
    before_on: date | None
    after_on: date | None
    why: str
    visit_pk: int | None


@dataclass(frozen=True)
class Comparison:
    """All changes of a proposal, and how many planned visits it leaves as they are."""

    rows: Sequence[ChangeRow]
    unchanged: int
    is_outdated: bool

    @property
    def added(self) -> list[ChangeRow]:
        """The visits that are new."""
        return [row for row in self.rows if row.change == PlanChange.ADDED]

    @property
    def others(self) -> list[ChangeRow]:
        """What becomes of visits that are planned already."""
        return [row for row in self.rows if row.change != PlanChange.ADDED]

    @property
    def words(self) -> str:
        """How many changes of each kind, and how many visits stay as they are."""
        counts = Counter(row.change for row in self.rows)
        kinds = [f"{counts[kind]} {kind.label}" for kind in PlanChange if counts[kind]]
        kinds += [_("%(count)d unchanged") % {"count": self.unchanged}] if self.unchanged else []
        return ", ".join(kinds) + "."


def compare(
    board: Board, depot: Depot, home: Mapping[int, frozenset[date]], *, seen: str, today: date
) -> Comparison:
    """What accepting the proposal would change; `home` are nights by truck id. Queries thrice."""
    last_on = board.proposal.first_on + timedelta(days=board.proposal.nights - 1)
    planned = planned_visits(depot, until=last_on)
    changes = changes_between(planned, board.wanted())
    names = _names(changes)
    reasons = _Reasons(board, home, today)
    rows = [
        ChangeRow(
            change=change.kind,
            truck=names.get(change.door, ("", ""))[0] or reasons.truck_of(change),
            door=names.get(change.door, ("", ""))[1] or reasons.door_of(change),
            before_on=change.before.night_on if change.before else None,
            after_on=change.after.night_on if change.after else None,
            why=reasons.of(change),
            visit_pk=change.before.pk if change.before else None,
        )
        for change in changes
    ]
    changed = {change.before.pk for change in changes if change.before}
    return Comparison(rows, len(planned) - len(changed), seen != board.proposal.seen)


def _names(changes: Sequence[Change]) -> dict[int, tuple[str, str]]:
    """Truck and door of planned visits, by door id; queries once."""
    planned = [change.before.pk for change in changes if change.before]
    rows = Visit.objects.filter(pk__in=planned).order_by("pk")
    return {
        door: (truck or "", serial)
        for door, truck, serial in rows.values_list("door", "truck__fleet_number", "door__serial")
    }


class _Reasons:
    """Why a proposal changes what is planned."""

    def __init__(self, board: Board, home: Mapping[int, frozenset[date]], today: date) -> None:
        self.board, self.home, self.today = board, home, today
        self.placed = {(visit.row.door_id, visit.row.night_on): visit for visit in board.visits()}
        self.left_out = {visit.row.door_id: visit for visit in board.left_out}

    def of(self, change: Change) -> str:
        """The reason of one change."""
        if change.after is None or change.kind == PlanChange.DROPPED:
            return self._why_dropped(change)
        visit = self.placed[change.after.door, change.after.night_on]
        if visit.row.is_chosen:
            return _("put there by hand")
        if change.kind == PlanChange.MOVED and change.before:
            return self._why_moved(change.before, visit)
        return why_in(visit, self.today)

    def truck_of(self, change: Change) -> str:
        """The truck of a visit that is new."""
        return str(self._visit(change).row.truck or "")

    def door_of(self, change: Change) -> str:
        """The door of a visit that is new."""
        return self._visit(change).row.door.serial

    def _visit(self, change: Change) -> BoardVisit:
        assert change.after is not None  # the names of planned visits are known
        return self.placed[change.after.door, change.after.night_on]

    def _why_dropped(self, change: Change) -> str:
        left = self.left_out.get(change.door)
        if left:
            return why_left_out(left)
        return _("nothing of it is due in these nights any more")

    def _why_moved(self, before: PlannedVisit, visit: BoardVisit) -> str:
        night = self.board.night(before.night_on)
        if night is None:
            return _("it was not done on its night")
        if night.bay_minutes <= 0:
            return _("the bay is shut on %(night)s") % {"night": short_day(before.night_on)}
        if visit.needs_trained and night.trained_minutes <= 0:
            return _("nobody trained for spring work is there on %(night)s") % {
                "night": short_day(before.night_on)
            }
        if before.night_on not in self.home.get(visit.row.truck_id or 0, frozenset()):
            return _("the truck is not in on %(night)s") % {"night": short_day(before.night_on)}
        if night.minutes + visit.minutes > night.bay_minutes:
            return _("%(night)s is full with more pressing work") % {
                "night": short_day(before.night_on)
            }
        return _("fewer late days or fewer visits in all")
