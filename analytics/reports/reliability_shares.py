"""Doors that fail more than their share, and what speaks for it."""

from __future__ import annotations

from dataclasses import dataclass

from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from analytics.assessment.doors_over_share import DoorShare, DoorsOverShare
from analytics.kernel.more_than_share import MUCH_MORE
from analytics.reports.evidence import Evidence
from analytics.reports.kernel_words import why_missing
from analytics.reports.reliability_scope import Scope
from fleetdoors.templatetags.units import between, cycles, number, per_cent, times_in_ten


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
    figures, found = scope.figures, scope.figures.over_share
    if figures.failures == 0:
        return OverShare(_("Without a failure no door can have more than its share."), "", [])
    if found is None:
        return OverShare(
            _(
                "Of %(doors)s doors those that fail more than their share are sought over the "
                "failures of every component only. Choose a depot, or every component."
            )
            % {"doors": number(figures.doors)},
            "",
            [],
        )
    if found.reason:
        return OverShare(why_missing(found.reason), _repeats(found), [])
    doors = [_door(scope, each) for each in found.doors]
    return OverShare(_sentence(scope, found), _repeats(found), doors)


def _sentence(scope: Scope, found: DoorsOverShare) -> str:
    doors = number(scope.figures.doors)
    if not found.listed:
        return _(
            "Nobody is listed: of %(doors)s doors none is likely to fail more than %(times)s "
            "times as often as its cycles, age, model and route lead one to expect. Smaller "
            "differences are not told apart from chance here. %(power)s"
        ) % {"doors": doors, "times": number(MUCH_MORE), "power": _power(scope, found)}
    said = ngettext(
        "%(n)s of %(doors)s doors probably fails more than %(times)s times as often as its "
        "cycles, age, model and route lead one to expect. Of such a list about %(wrong)s are on "
        "it by chance.",
        "%(n)s of %(doors)s doors probably fail more than %(times)s times as often as their "
        "cycles, age, model and route lead one to expect. Of such a list about %(wrong)s are on "
        "it by chance.",
        found.listed,
    ) % {
        "n": number(found.listed),
        "doors": doors,
        "times": number(MUCH_MORE),
        "wrong": per_cent(found.false_share),
    }
    if found.listed <= len(found.doors):
        return said
    return _("%(said)s The %(shown)s surest are shown.") % {
        "said": said,
        "shown": number(len(found.doors)),
    }


def _power(scope: Scope, found: DoorsOverShare) -> str:
    """What it would take to tell a door that is three times as bad; `manage.py prove` measures."""
    each = (found.failures - found.repeats) / scope.figures.doors
    return _(
        "In made fleets a door that failed three times as often was told in six cases of ten "
        "where there were 5 failures a door on record, and in fewer than two of ten where there "
        "were 2; here there are %(each)s. One that fails just twice as often is hardly ever told."
    ) % {"each": number(each, 1)}


def _repeats(found: DoorsOverShare) -> str:
    return ngettext(
        "%(repeats)s of %(all)s failures came within 14 days of another of the same component on "
        "the same door and was taken for the same repair, in this list only.",
        "%(repeats)s of %(all)s failures came within 14 days of another of the same component on "
        "the same door and were taken for the same repair, in this list only.",
        found.repeats,
    ) % {"repeats": number(found.repeats), "all": number(found.failures)}


def _door(scope: Scope, door: DoorShare) -> DoorOverShare:
    return DoorOverShare(
        label=_("Truck %(truck)s, door %(door)s") % {"truck": door.truck, "door": door.serial}
        if door.truck
        else _("Door %(door)s, on no truck") % {"door": door.serial},
        url=reverse("door-detail", args=[door.serial]),
        place=door.depot,
        words=_("%(counted)s failures where %(expected)s are to be expected: mostly %(often)s")
        % {
            "counted": number(door.counted),
            "expected": number(door.expected, 1),
            "often": _most_frequent(scope, door),
        },
        evidence=_evidence(door),
    )


def _evidence(door: DoorShare) -> list[Evidence]:
    return [
        Evidence(
            _("Times its share"),
            number(door.ratio, 1),
            _("%(range)s, 9 times in 10; drawn towards the fleet, as chance demands")
            % {"range": between(door.ratio_lower, door.ratio_upper, 1)},
        ),
        Evidence(
            _("Chance of more than twice its share"),
            times_in_ten(door.chance),
            _("how much doors differ at all is learned from every door first"),
        ),
        Evidence(
            _("Cycles on record"),
            cycles(door.cycles),
            _("model %(model)s, route %(route)s")
            % {"model": door.model, "route": door.route or _("not noted")},
        ),
    ]


def _most_frequent(scope: Scope, door: DoorShare) -> str:
    return ", ".join(
        _("%(component)s (%(n)s)")
        % {"component": scope.component_name(component_id), "n": number(failures)}
        for component_id, failures in door.often
    )
