"""Doors that fail more than their share, and what speaks for it."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

import numpy as np
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from analytics.assessment.shares import Shares, assess_shares
from analytics.datasets.doors import coded
from analytics.kernel.lifetimes import NotEstimableError
from analytics.kernel.more_than_share import MUCH_MORE, ShareRanking, rank_by_share
from analytics.reports.evidence import Evidence
from analytics.reports.reliability_scope import Scope
from fleetdoors.templatetags.units import between, cycles, number, per_cent, times_in_ten

LISTED_AT_MOST = 30
COMPONENTS_NAMED = 3


@dataclass(frozen=True)
class DoorOverShare:
    """One door of the list."""

    label: str
    url: str
    place: str
    words: str
    evidence: list[Evidence]


@dataclass(frozen=True)
class OverShare:
    """The doors listed, and the sentences that say what the list is worth."""

    sentence: str
    repeats: str
    doors: list[DoorOverShare]


def doors_over_share(scope: Scope) -> OverShare:
    """Which doors stand out from what their cycles, age, model and route lead one to expect."""
    classes = tuple(_numbered(names) for names in (scope.doors.models, scope.doors.routes))
    counted = scope.counted
    if len(counted) == 0:
        return OverShare(_("Without a failure no door can have more than its share."), "", [])
    shares = assess_shares(scope.windows, counted, scope.failures.day, classes)
    try:
        ranking = rank_by_share(shares.counted, shares.expected)
    except NotEstimableError as reason:
        return OverShare(str(reason), _repeats(shares), [])
    rows = [door for door in ranking.order.tolist() if ranking.listed[door]]
    doors = [_door(scope, shares, ranking, door) for door in rows[:LISTED_AT_MOST]]
    return OverShare(_sentence(scope, ranking, len(rows)), _repeats(shares), doors)


def _numbered(names: tuple[str, ...]) -> np.ndarray:
    """Each door's class by number; those without a name are a class of their own."""
    known, place = coded(list(names))
    return np.where(place < 0, len(known), place)


def _sentence(scope: Scope, ranking: ShareRanking, listed: int) -> str:
    doors = number(len(scope.doors))
    if not listed:
        return _(
            "Nobody is listed: of %(doors)s doors none is likely to fail more than %(times)s "
            "times as often as its cycles, age, model and route lead one to expect. Smaller "
            "differences are not told apart from chance here."
        ) % {"doors": doors, "times": number(MUCH_MORE)}
    return ngettext(
        "%(n)s of %(doors)s doors probably fails more than %(times)s times as often as its "
        "cycles, age, model and route lead one to expect. Of such a list about %(wrong)s are on "
        "it by chance.",
        "%(n)s of %(doors)s doors probably fail more than %(times)s times as often as their "
        "cycles, age, model and route lead one to expect. Of such a list about %(wrong)s are on "
        "it by chance.",
        listed,
    ) % {
        "n": number(listed),
        "doors": doors,
        "times": number(MUCH_MORE),
        "wrong": per_cent(ranking.false_share),
    }


def _repeats(shares: Shares) -> str:
    return ngettext(
        "%(repeats)s of %(all)s failures came within 14 days of another of the same component on "
        "the same door and was taken for the same repair, in this list only.",
        "%(repeats)s of %(all)s failures came within 14 days of another of the same component on "
        "the same door and were taken for the same repair, in this list only.",
        shares.repeats,
    ) % {"repeats": number(shares.repeats), "all": number(len(shares.is_first))}


def _door(scope: Scope, shares: Shares, ranking: ShareRanking, door: int) -> DoorOverShare:
    rows = scope.doors
    truck = rows.trucks[door]
    return DoorOverShare(
        label=_("Truck %(truck)s, door %(door)s") % {"truck": truck, "door": rows.serials[door]}
        if truck
        else _("Door %(door)s, on no truck") % {"door": rows.serials[door]},
        url=reverse("door-detail", args=[rows.serials[door]]),
        place=rows.depots[door],
        words=_("%(counted)s failures where %(expected)s are to be expected: mostly %(often)s")
        % {
            "counted": number(float(shares.counted[door])),
            "expected": number(float(shares.expected[door]), 1),
            "often": _most_frequent(scope, door),
        },
        evidence=_evidence(scope, ranking, door),
    )


def _evidence(scope: Scope, ranking: ShareRanking, door: int) -> list[Evidence]:
    rows = scope.doors
    return [
        Evidence(
            _("Times its share"),
            number(float(ranking.ratio_mean[door]), 1),
            _("%(range)s, 9 times in 10; drawn towards the fleet, as chance demands")
            % {
                "range": between(
                    float(ranking.ratio_lower[door]), float(ranking.ratio_upper[door]), 1
                )
            },
        ),
        Evidence(
            _("Chance of more than twice its share"),
            times_in_ten(float(ranking.chance_above[door])),
            _("how much doors differ at all is learned from every door first"),
        ),
        Evidence(
            _("Cycles on record"),
            cycles(float(rows.end_cycles[door] - rows.start_cycles[door])),
            _("model %(model)s, route %(route)s")
            % {
                "model": rows.models[door],
                "route": rows.routes[door] or _("not noted"),
            },
        ),
    ]


def _most_frequent(scope: Scope, door: int) -> str:
    own = [row for row in scope.counted.tolist() if scope.failures.door[row] == door]
    counts = Counter(scope.component_name(int(scope.failures.component_id[row])) for row in own)
    return ", ".join(
        _("%(component)s (%(n)s)") % {"component": name, "n": number(n)}
        for name, n in counts.most_common(COMPONENTS_NAMED)
    )
