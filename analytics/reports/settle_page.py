"""Readings that wait for a person, those settled without one, and doors without readings."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

from django.db.models.query import QuerySet

from analytics.models import Cause, DoorFigures, Settlement, SuspectReading, UsageBasis
from analytics.models.suspect_reading import SuspectReadingQuerySet
from analytics.reports.basis import Basis
from analytics.reports.suspicion import Suspicion, suspicion

SHOWN = 20


@dataclass(frozen=True)
class Silent:
    """Doors that nobody reads: how many, and the first of them."""

    doors: int
    first: list[DoorFigures]


@dataclass(frozen=True)
class SettlePage:
    """What stands below the readings that wait."""

    unasked: list[Suspicion]
    unasked_in_all: int
    left_out: list[Suspicion]
    left_out_in_all: int
    unread: Silent
    stale: Silent


def waiting(depot_ids: tuple[int, ...] | None, basis: Basis) -> SuspectReadingQuerySet:
    """Held readings that neither a person nor a later reading has settled, newest first."""
    rows = _of_run(depot_ids, basis).to_settle().filter(settlement=Settlement.NONE)
    return rows.exclude(cause=Cause.RULED).with_links()


def waiting_among(
    reading_ids: Collection[int], depot_ids: tuple[int, ...] | None, basis: Basis
) -> list[SuspectReading]:
    """The readings named, of those in sight that are held, settled or were left out."""
    return list(_of_run(depot_ids, basis).filter(reading__in=reading_ids).with_links())


def settle_page(depot_ids: tuple[int, ...] | None, basis: Basis) -> SettlePage:
    """What was settled without asking, what was left out, and which doors nobody reads."""
    rows = _of_run(depot_ids, basis)
    unasked = rows.settled_without_asking()
    left_out = rows.to_settle().filter(cause=Cause.RULED)
    doors = DoorFigures.objects.filter(generation=basis.run, in_service=True).at_depots(depot_ids)
    stale = doors.filter(basis=UsageBasis.STALE).order_by("last_read_at", "pk")
    unread = doors.filter(last_read_at__isnull=True).order_by("pk")
    return SettlePage(
        unasked=[suspicion(row) for row in unasked.with_links()[:SHOWN]],
        unasked_in_all=unasked.count(),
        left_out=[suspicion(row) for row in left_out.with_links()[:SHOWN]],
        left_out_in_all=left_out.count(),
        unread=_silent(unread),
        stale=_silent(stale),
    )


def _of_run(depot_ids: tuple[int, ...] | None, basis: Basis) -> SuspectReadingQuerySet:
    rows: SuspectReadingQuerySet = SuspectReading.objects.filter(generation=basis.run)
    # A corrected reading is no longer anybody's question, also before the next computation.
    return rows.at_depots(depot_ids).filter(reading__superseded_at__isnull=True)


def _silent(rows: QuerySet[DoorFigures]) -> Silent:
    return Silent(rows.count(), list(rows.select_related("door", "truck", "depot")[:SHOWN]))
