"""A proposal as people see it: nights, visits with their minutes, and what found no night."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta

from analytics.kernel.schedule_problem import VISIT_MINUTES
from analytics.models import Proposal, ProposedJob, ProposedVisit
from analytics.scheduling.store import target_of
from inspections.services.plan_changes import WantedVisit


@dataclass(frozen=True)
class BoardVisit:
    """A visit of a proposal with its jobs."""

    row: ProposedVisit
    jobs: Sequence[ProposedJob]

    @property
    def own(self) -> list[ProposedJob]:
        """The jobs that are worked on; the others are done along with them."""
        return [job for job in self.jobs if not job.is_along]

    @property
    def minutes(self) -> float:
        """Work, getting at the door and the final check."""
        return sum(job.minutes for job in self.own) + VISIT_MINUTES

    @property
    def trained_minutes(self) -> float:
        """Minutes of spring work."""
        return sum(job.minutes for job in self.own if job.needs_trained)

    @property
    def needs_trained(self) -> bool:
        """Whether there is spring work in it."""
        return any(job.needs_trained for job in self.own)

    @property
    def late_days(self) -> int:
        """Days by which the job that is the latest is past its due date; 0 where none is."""
        on = self.row.night_on
        late = [(on - job.due_on).days for job in self.jobs if on and job.due_on]
        return max([*late, 0])

    def wanted(self) -> WantedVisit | None:
        """The visit as the record takes it; none for what is in hand or has no night."""
        if self.row.is_open or self.row.night_on is None:
            return None
        targets = [(target_of(job), job.is_along) for job in self.jobs]
        return WantedVisit(
            door=self.row.door_id,
            truck=self.row.truck_id,
            night_on=self.row.night_on,
            jobs=frozenset(each for each, along in targets if each and not along),
            along=frozenset(each for each, along in targets if each and along),
        )


@dataclass(frozen=True)
class Night:
    """A night: what there is, and the visits in it."""

    night_on: date
    bay_minutes: float
    trained_minutes: float
    visits: list[BoardVisit] = field(default_factory=list)

    @property
    def minutes(self) -> float:
        """Minutes that the visits take."""
        return sum(visit.minutes for visit in self.visits)

    @property
    def spring_minutes(self) -> float:
        """Minutes of spring work."""
        return sum(visit.trained_minutes for visit in self.visits)


@dataclass(frozen=True)
class Board:
    """The nights of a proposal, and the visits that found none."""

    proposal: Proposal
    nights: Sequence[Night]
    left_out: Sequence[BoardVisit]

    def visits(self) -> Iterable[BoardVisit]:
        """Every visit that has a night."""
        return (visit for night in self.nights for visit in night.visits)

    def night(self, night_on: date) -> Night | None:
        """The night of a date."""
        return next((each for each in self.nights if each.night_on == night_on), None)

    def wanted(self) -> list[WantedVisit]:
        """The visits as the record takes them."""
        return [each for visit in self.visits() if (each := visit.wanted())]


def board_of(proposal: Proposal) -> Board:
    """The proposal with everything in it; queries twice."""
    rows = ProposedVisit.objects.filter(proposal=proposal).select_related("door", "truck")
    jobs: dict[int, list[ProposedJob]] = {}
    held = ProposedJob.objects.filter(visit__proposal=proposal).order_by("pk")
    for job in held.select_related("task", "follow_up", "fault__component", "defect_report"):
        jobs.setdefault(job.visit_id, []).append(job)
    nights = [
        Night(proposal.first_on + timedelta(days=number), bay, trained)
        for number, (bay, trained) in enumerate(
            zip(proposal.bay_minutes, proposal.trained_minutes, strict=True)
        )
    ]
    place = {night.night_on: night for night in nights}
    left_out = []
    for row in rows.order_by("pk"):
        visit = BoardVisit(row, jobs.get(row.pk, []))
        if row.night_on is None:
            left_out.append(visit)
        else:
            place[row.night_on].visits.append(visit)
    return Board(proposal, nights, left_out)
