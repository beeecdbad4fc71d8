"""Visits of a proposal moved by hand: what speaks against it, what forbids it, and the move."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime

from django.db import transaction
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from analytics.assessment.along import does_along
from analytics.assessment.plan_jobs import Catalogue
from analytics.datasets.catalogue import fetch_tasks
from analytics.datasets.planning import fetch_task_facts
from analytics.models import Proposal, ProposedJob, ProposedVisit
from analytics.scheduling.board import Board, BoardVisit, board_of
from fleetdoors.models import User
from fleetdoors.templatetags.units import duration, short_day
from inspections.models import JobKind
from inspections.services.planning import choose_night, withdraw_choice


class MoveRefusedError(ValueError):
    """The visit cannot stand in that night."""


@dataclass(frozen=True)
class Against:
    """What speaks against a night: `forbids` where the rule is hard, `warns` where it is not."""

    forbids: tuple[str, ...]
    warns: tuple[str, ...]


@dataclass(frozen=True)
class Move:
    """A visit, the night that it is to stand in, and the nights when its truck is in."""

    visit_pk: int
    night_on: date
    home: frozenset[date]


@transaction.atomic
def move_visit(*, proposal: Proposal, move: Move, moved_at: datetime, moved_by: User) -> Against:
    """Put a visit into a night, where it is kept; returns what speaks against it all the same."""
    board = board_of(Proposal.objects.select_for_update().get(pk=proposal.pk))
    visit = _visit_of(board, move.visit_pk)
    catalogue = Catalogue(fetch_tasks(), fetch_task_facts())
    against = what_speaks_against(board, visit, move, catalogue)
    if against.forbids:
        raise MoveRefusedError(" ".join(against.forbids))
    target = _row_in(board, visit, move.night_on)
    _gather(target, visit.row, move.night_on, catalogue)
    choose_night(
        door=visit.row.door, chosen_on=move.night_on, chosen_at=moved_at, chosen_by=moved_by
    )
    return against


@transaction.atomic
def release_visit(
    *, visit: ProposedVisit, released_at: datetime, released_by: User
) -> ProposedVisit:
    """Leave the night of a visit to the next plan again; for now it stays where it is."""
    withdraw_choice(
        door=visit.door,
        night_on=visit.night_on or visit.proposal.first_on,
        withdrawn_at=released_at,
        withdrawn_by=released_by,
    )
    visit.is_chosen = False
    visit.save(update_fields=("is_chosen",))
    return visit


def what_speaks_against(
    board: Board, visit: BoardVisit, move: Move, catalogue: Catalogue
) -> Against:
    """The rules that a move would break."""
    night_on = move.night_on
    night = board.night(night_on)
    if night is None:
        return Against((_("That night is not one of this plan."),), ())
    if visit.row.is_open:
        return Against((_("This visit is in hand already; it is moved by ending it."),), ())
    there = [each for each in night.visits if each.row.door_id == visit.row.door_id]
    others = [each for each in night.visits if each.row.door_id != visit.row.door_id]
    jobs = [*(job for each in there for job in each.jobs), *visit.jobs]
    joined = BoardVisit(visit.row, jobs) if there else visit
    minutes = _minutes_after(jobs, catalogue, joined)
    forbids = [
        *_hours(night_on, night.bay_minutes, sum(v.minutes for v in others) + minutes),
        *_spring(night_on, night.trained_minutes, sum(v.trained_minutes for v in others), joined),
        *_too_early(visit.jobs, night_on),
    ]
    return Against(tuple(forbids), tuple(_warnings(visit, night_on, move.home)))


def _minutes_after(jobs: list[ProposedJob], catalogue: Catalogue, visit: BoardVisit) -> float:
    along = along_with(jobs, catalogue)
    saved = sum(job.minutes for job in jobs if job in along and not job.is_along)
    return visit.minutes - saved


def _hours(night_on: date, there: float, needed: float) -> Iterable[str]:
    if there <= 0:
        yield _("The bay is shut on %(night)s.") % {"night": short_day(night_on)}
    elif needed > there + 1e-6:
        yield _("%(night)s would take %(needed)s of %(there)s in the bay: %(over)s too much.") % {
            "night": short_day(night_on),
            "needed": duration(needed),
            "there": duration(there),
            "over": duration(needed - there),
        }


def _spring(night_on: date, there: float, taken: float, visit: BoardVisit) -> Iterable[str]:
    if not visit.needs_trained:
        return
    if there <= 0:
        yield _("Nobody trained for spring work is there on %(night)s.") % {
            "night": short_day(night_on)
        }
    elif taken + visit.trained_minutes > there + 1e-6:
        yield _(
            "The people trained for spring work have %(there)s on %(night)s; it would take "
            "%(needed)s."
        ) % {
            "night": short_day(night_on),
            "there": duration(there),
            "needed": duration(taken + visit.trained_minutes),
        }


def _too_early(jobs: Iterable[ProposedJob], night_on: date) -> Iterable[str]:
    early = [
        job for job in jobs if not job.is_along and job.earliest_on and night_on < job.earliest_on
    ]
    for job in early[:1]:
        yield _(
            "%(task)s would be done with less than half of its interval used; the first night "
            "for it is %(night)s."
        ) % {"task": job.task, "night": short_day(job.earliest_on)}


def _warnings(visit: BoardVisit, night_on: date, home: frozenset[date]) -> Iterable[str]:
    if night_on not in home:
        yield _("The truck is not usually in on %(night)s: make sure that it comes.") % {
            "night": short_day(night_on)
        }
    due = [job.due_on for job in visit.jobs if job.due_on]
    late = (night_on - min(due)).days if due else 0
    if late > 0:
        yield ngettext(
            "It would be done %(count)d day late.", "It would be done %(count)d days late.", late
        ) % {"count": late}


def along_with(jobs: Iterable[ProposedJob], catalogue: Catalogue) -> list[ProposedJob]:
    """The tasks among the jobs of a visit that another one of them does along."""
    rows = list(jobs)
    place = {id(job): catalogue.row(job.task_id or 0) for job in rows}
    return [
        inner
        for inner in rows
        if inner.kind == JobKind.TASK
        and any(
            outer is not inner
            and (
                _is_twin(outer, inner, rows)
                if outer.task_id == inner.task_id
                else does_along(catalogue.tasks, place[id(outer)], place[id(inner)])
            )
            for outer in rows
        )
    ]


def _is_twin(outer: ProposedJob, inner: ProposedJob, rows: list[ProposedJob]) -> bool:
    """Whether the other one of two jobs of the same task comes first."""
    return rows.index(outer) < rows.index(inner)


def _visit_of(board: Board, visit_pk: int) -> BoardVisit:
    for visit in [*board.visits(), *board.left_out]:
        if visit.row.pk == visit_pk:
            return visit
    raise MoveRefusedError(_("This visit is no longer in the plan. Look at the plan anew."))


def _row_in(board: Board, visit: BoardVisit, night_on: date) -> ProposedVisit:
    """The visit of the same door in that night, or the visit itself."""
    night = board.night(night_on)
    others = [
        each.row
        for each in (night.visits if night else ())
        if each.row.door_id == visit.row.door_id and each.row.pk != visit.row.pk
    ]
    return others[0] if others else visit.row


def _gather(
    target: ProposedVisit, row: ProposedVisit, night_on: date, catalogue: Catalogue
) -> None:
    """Bring the jobs together in the target, and mark what is done along with others."""
    ProposedJob.objects.filter(visit=row).update(visit=target, why_not=0)
    if target.pk != row.pk:
        row.delete()
    target.night_on, target.is_chosen = night_on, True
    target.save(update_fields=("night_on", "is_chosen"))
    jobs = list(ProposedJob.objects.filter(visit=target).select_related("task").order_by("pk"))
    along = {job.pk for job in along_with(jobs, catalogue)}
    for job in jobs:
        job.is_along = job.pk in along
    ProposedJob.objects.bulk_update(jobs, ("is_along",))
