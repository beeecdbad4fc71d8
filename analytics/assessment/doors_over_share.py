"""The doors that fail more than their share, with what a page says of each."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analytics.assessment.groups import Windows
from analytics.assessment.shares import Shares, assess_shares
from analytics.datasets.columns import Ints
from analytics.datasets.doors import coded
from analytics.datasets.reliability import ReliabilityRows
from analytics.kernel.lifetimes import NotEstimableError
from analytics.kernel.more_than_share import ShareRanking, rank_by_share

LISTED_AT_MOST = 30
COMPONENTS_NAMED = 3


@dataclass(frozen=True)
class DoorShare:
    """One listed door: failures counted and expected, the ratio drawn to the fleet's, and why.

    `often`: component id (-1 = not noted) and failures, the most frequent first.
    """

    serial: str
    truck: str
    depot: str
    model: str
    route: str
    cycles: float
    counted: float
    expected: float
    ratio: float
    ratio_lower: float
    ratio_upper: float
    chance: float
    often: tuple[tuple[int, int], ...]


@dataclass(frozen=True)
class DoorsOverShare:
    """The list and what it is worth; `reason` says why there is none.

    `repeats` of `failures` were taken for the same repair as one before.
    """

    doors: tuple[DoorShare, ...]
    listed: int
    false_share: float
    repeats: int
    failures: int
    reason: str


def find_over_share(rows: ReliabilityRows, windows: Windows, counted: Ints) -> DoorsOverShare:
    """Which doors stand out from what their cycles, age, model and route lead one to expect."""
    classes = tuple(_numbered(names) for names in (rows.doors.models, rows.doors.routes))
    shares = assess_shares(windows, counted, rows.failures.day, classes)
    failures = len(shares.is_first)
    try:
        ranking = rank_by_share(shares.counted, shares.expected)
    except NotEstimableError as problem:
        return DoorsOverShare((), 0, 0.0, shares.repeats, failures, str(problem))
    listed = ranking.order[ranking.listed[ranking.order]]
    return DoorsOverShare(
        doors=tuple(
            _door(rows, shares, ranking, counted, door) for door in listed[:LISTED_AT_MOST].tolist()
        ),
        listed=len(listed),
        false_share=ranking.false_share,
        repeats=shares.repeats,
        failures=failures,
        reason="",
    )


def _numbered(names: tuple[str, ...]) -> Ints:
    """Each door's class by number; those without a name are a class of their own."""
    known, place = coded(list(names))
    return np.where(place < 0, len(known), place)


def _door(
    rows: ReliabilityRows, shares: Shares, ranking: ShareRanking, counted: Ints, door: int
) -> DoorShare:
    doors = rows.doors
    return DoorShare(
        serial=doors.serials[door],
        truck=doors.trucks[door],
        depot=doors.depots[door],
        model=doors.models[door],
        route=doors.routes[door],
        cycles=float(doors.end_cycles[door] - doors.start_cycles[door]),
        counted=float(shares.counted[door]),
        expected=float(shares.expected[door]),
        ratio=float(ranking.ratio_mean[door]),
        ratio_lower=float(ranking.ratio_lower[door]),
        ratio_upper=float(ranking.ratio_upper[door]),
        chance=float(ranking.chance_above[door]),
        often=_most_frequent(rows, counted, door),
    )


def _most_frequent(rows: ReliabilityRows, counted: Ints, door: int) -> tuple[tuple[int, int], ...]:
    own = counted[rows.failures.door[counted] == door]
    known, counts = np.unique(rows.failures.component_id[own], return_counts=True)
    often = np.argsort(-counts, kind="stable")[:COMPONENTS_NAMED]
    return tuple((int(known[k]), int(counts[k])) for k in often.tolist())
