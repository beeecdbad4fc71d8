"""The plan's page: nights as openings, visits under each, what is left out, what would change."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

import numpy as np

from analytics.assessment.nights import assess_nights, trained_minutes
from analytics.datasets.clock import EPOCH_DATE
from analytics.datasets.depots import fetch_depots
from analytics.datasets.planning import fetch_trained
from analytics.datasets.week_hours import fetch_depot_hours
from analytics.kernel.schedule_problem import VISIT_MINUTES, Nights
from analytics.models import Proposal
from analytics.reports.schedule_changes import Comparison, compare
from analytics.reports.schedule_words import hours_words, job_words, why_in, why_left_out
from analytics.scheduling.board import BoardVisit, Night, board_of
from fleetdoors.door_sign import SLATS
from fleetdoors.models import Depot, LayUp, Truck
from inspections.models import Visit
from inspections.services.planning import mark_of, planned_visits

LEFT_OUT_SHOWN = 25
# The opening is drawn 48 high: the lintel, and eight slats of 4 with a gap of 1.
LINTEL, SLAT_PITCH = 6, 5


@dataclass(frozen=True)
class VisitCard:
    """A visit as listed under its night."""

    pk: int
    truck: str
    door: str
    night_on: date | None
    words: Sequence[str]
    along: int
    minutes: float
    late_days: int
    why: str
    is_chosen: bool
    is_open: bool
    away: bool


@dataclass(frozen=True)
class NightCard:
    """A night as an opening: how far down its door is, in how many slats, and its visits."""

    night_on: date
    words: str
    share: float
    is_over: bool
    is_shut: bool
    spring_words: str
    visits: Sequence[VisitCard]

    @property
    def slat_tops(self) -> list[int]:
        """Where the slats that are down begin, from the lintel on; any work shows as one."""
        down = min(round(self.share * SLATS), SLATS) or int(self.share > 0)
        return [LINTEL + SLAT_PITCH * number for number in range(down)]


@dataclass(frozen=True)
class SchedulePage:
    """Everything about a depot's open proposal."""

    proposal: Proposal
    nights: Sequence[NightCard]
    left_out: Sequence[VisitCard]
    left_out_more: int
    comparison: Comparison
    visits: int
    late_days: int


@dataclass(frozen=True)
class PlannedNight:
    """A night as planned at present, where nothing is proposed."""

    night_on: date
    visits: Sequence[Visit]


def proposal_page(proposal: Proposal, depot: Depot, *, now: datetime) -> SchedulePage:
    """The open proposal of a depot; a constant number of queries."""
    board = board_of(proposal)
    today = now.astimezone(depot.zone).date()
    trucks = {visit.row.truck_id for visit in [*board.visits(), *board.left_out]}
    home = home_of(depot, proposal, trucks - {None}, now=now)
    last_on = proposal.first_on + timedelta(days=proposal.nights - 1)
    seen = mark_of(planned_visits(depot, until=last_on))
    left = board.left_out
    return SchedulePage(
        proposal=proposal,
        nights=[_night(night, home, today) for night in board.nights],
        left_out=[_card(each, home, today) for each in left[:LEFT_OUT_SHOWN]],
        left_out_more=max(len(left) - LEFT_OUT_SHOWN, 0),
        comparison=compare(board, depot, home, seen=seen, today=today),
        visits=sum(1 for _visit in board.visits()),
        late_days=sum(visit.late_days for visit in board.visits()),
    )


def why_changes(proposal: Proposal, depot: Depot, *, now: datetime) -> dict[int, str]:
    """The reason of each change by door id, for the record."""
    board = board_of(proposal)
    today = now.astimezone(depot.zone).date()
    trucks = {visit.row.truck_id for visit in board.visits()} - {None}
    home = home_of(depot, proposal, trucks, now=now)
    comparison = compare(board, depot, home, seen=proposal.seen, today=today)
    doors = {visit.row.door.serial: visit.row.door_id for visit in board.visits()}
    planned = Visit.objects.filter(pk__in=[row.visit_pk for row in comparison.rows])
    doors |= dict(planned.order_by("pk").values_list("door__serial", "door"))
    return {doors[row.door]: row.why for row in comparison.rows}


def home_of(
    depot: Depot, proposal: Proposal, trucks: set[int | None], *, now: datetime
) -> Mapping[int, frozenset[date]]:
    """The nights when trucks, by id, are home."""
    ids = np.array(sorted(each for each in trucks if each), dtype=np.int64)
    nights = _nights(depot, proposal, ids, now=now)
    dates = [proposal.first_on + timedelta(days=k) for k in range(proposal.nights)]
    return {
        truck: frozenset(on for on, is_in in zip(dates, row, strict=True) if is_in)
        for truck, row in zip(ids.tolist(), nights.home.tolist(), strict=True)
    }


def _nights(depot: Depot, proposal: Proposal, trucks: np.ndarray, *, now: datetime) -> Nights:
    """Hours of the nights with these trucks; queries nine times."""
    depots, hours = fetch_depots(now), fetch_depot_hours()[depot.pk]
    days = (proposal.first_on - EPOCH_DATE).days + np.arange(proposal.nights)
    row = int(np.flatnonzero(depots.ids == depot.pk)[0])
    laid = np.zeros((len(trucks), len(days)), bool)
    for truck, from_on, until_on in LayUp.objects.filter(truck__in=trucks.tolist()).values_list(
        "truck", "from_on", "until_on"
    ):
        until = days[-1] + 1 if until_on is None else (until_on - EPOCH_DATE).days
        laid[trucks == truck] |= (days >= (from_on - EPOCH_DATE).days) & (days < until)
    trained = trained_minutes(fetch_trained(depots), depots, hours, depot=row, days=days)
    return assess_nights(hours, trained, days=days, trucks=trucks, laid_up=laid)


def _night(night: Night, home: Mapping[int, frozenset[date]], today: date) -> NightCard:
    there = night.bay_minutes
    return NightCard(
        night_on=night.night_on,
        words=hours_words(night.minutes, there),
        share=night.minutes / there if there > 0 else float(night.minutes > 0),
        is_over=night.minutes > there + 1e-6,
        is_shut=there <= 0,
        spring_words=hours_words(night.spring_minutes, night.trained_minutes)
        if night.spring_minutes
        else "",
        visits=[_card(visit, home, today) for visit in night.visits],
    )


def _card(visit: BoardVisit, home: Mapping[int, frozenset[date]], today: date) -> VisitCard:
    row, on = visit.row, visit.row.night_on
    return VisitCard(
        pk=row.pk,
        truck=str(row.truck or ""),
        door=row.door.serial,
        night_on=on,
        words=[job_words(job) for job in visit.own] or [job_words(job) for job in visit.jobs],
        along=len(visit.jobs) - len(visit.own),
        minutes=visit.minutes if on else visit.minutes - VISIT_MINUTES,
        late_days=visit.late_days,
        why=why_in(visit, today) if on else why_left_out(visit),
        is_chosen=row.is_chosen,
        is_open=row.is_open,
        away=on is not None and on not in home.get(row.truck_id or 0, frozenset()),
    )


def planned_nights(depot: Depot, first_on: date, nights: int) -> list[PlannedNight]:
    """What is planned for the nights, visits left from before with the first; queries twice."""
    last_on = first_on + timedelta(days=nights - 1)
    visits = list(
        Visit.objects.still_to_do()
        .filter(depot=depot, planned_on__lte=last_on)
        .with_links()
        .prefetch_related("jobs__task", "jobs__follow_up__task", "jobs__fault__component",
                          "jobs__defect_report")
        .in_order_of_work()
    )  # fmt: skip
    found = {first_on + timedelta(days=k): [] for k in range(nights)}  # type: dict[date, list[Visit]]
    for visit in visits:
        found[max(visit.planned_on, first_on)].append(visit)
    return [PlannedNight(on, rows) for on, rows in found.items()]


def has_trucks(depot: Depot) -> bool:
    """Whether there is anything to plan for at all."""
    return Truck.objects.filter(depot=depot, mountings__removed_on__isnull=True).exists()
