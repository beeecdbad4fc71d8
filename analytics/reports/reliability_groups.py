"""Cycles between failures of groups of doors or of components, side by side, each with its why."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace

import numpy as np
from django.urls import reverse
from django.utils.translation import gettext as _

from analytics.assessment.group_sums import GroupSum
from analytics.assessment.groups import COMPONENT, DEPOT, DOOR_MODEL, ROUTE_KIND
from analytics.assessment.reliability import CONFIDENCE
from analytics.assessment.rises import UNWATCHED
from analytics.datasets.windows import NO_COMPONENT
from analytics.kernel.mcbf import McbfEstimates, estimate_mcbf
from analytics.reports.reliability_scope import Scope
from analytics.reports.reliability_why import Why, why_mcbf
from analytics.reports.reliability_words import FAILURES_TO_RANK, finding, note, value, words
from fleetdoors.interval_bar import IntervalBar, IntervalScale, common_scale, draw_interval
from fleetdoors.templatetags.units import cycles, number

# Latest failures listed over all groups, about.
ROWS_OF_ALL_GROUPS = 200


@dataclass(frozen=True)
class GroupLine:
    """One group of the comparison."""

    label: str
    url: str
    note: str
    value: str
    words: str
    bar: IntervalBar
    why: Why
    why_question: str


@dataclass(frozen=True)
class Comparison:
    """Groups on one scale, the sentence that compares them, and the numbers."""

    heading: str
    finding: str
    lines: list[GroupLine]
    scale: IntervalScale | None
    reference: str
    headings: list[str] = field(default_factory=list)
    rows: list[list[str]] = field(default_factory=list)


@dataclass(frozen=True)
class Named:
    """A group with what people call it and where its own page is."""

    label: str
    url: str
    group: GroupSum


def named_groups(scope: Scope, by: str) -> list[Named]:
    """The groups of one grouping, by name."""
    groups = scope.figures.groups[by]
    if by != COMPONENT:
        return [Named(str(group.key) or _("Not noted"), "", group) for group in groups]
    if not groups and scope.component:
        figures = scope.figures
        none = GroupSum(scope.component.pk, figures.doors, figures.cycles, 0, (), UNWATCHED)
        groups = (none,)
    return sorted((_component(scope, group) for group in groups), key=lambda each: each.label)


def _component(scope: Scope, group: GroupSum) -> Named:
    key = int(group.key)
    known = key != NO_COMPONENT and key in scope.components
    url = reverse("component-detail", args=[scope.components[key].code]) if known else ""
    return Named(scope.component_name(key), url, group)


def compare(scope: Scope, by: str) -> Comparison:
    """The groups, the fewest cycles between failures first, those with too few failures last."""
    heading, named = HEADINGS[by](), named_groups(scope, by)
    found = _mcbf([each.group for each in named])
    scale = _scale(found)
    if scale is None:
        return Comparison(heading, _nothing(scope), [], None, "")
    labels, order = [each.label for each in named], _order(found)
    reference = None if by == COMPONENT or len(named) < 2 else _reference(scope)
    return Comparison(
        heading=heading,
        finding=finding(labels, found, order),
        lines=[
            _line(scope, each, found, k, scale=scale, reference=reference)
            for each, k in ((_brief(named[k], len(named)), k) for k in order)
        ],
        scale=scale,
        reference=_reference_words(reference),
        headings=_number_headings(heading),
        rows=[_number_row(labels[k], found, k, named[k].group) for k in order],
    )


def _brief(named: Named, groups: int) -> Named:
    """With fewer of its latest failures where there are many groups, so that the page stays light.

    Three are shown at least.
    """
    most = max(ROWS_OF_ALL_GROUPS // groups, 3)
    return replace(named, group=replace(named.group, latest=named.group.latest[:most]))


def _mcbf(groups: list[GroupSum]) -> McbfEstimates:
    return estimate_mcbf(
        np.array([group.cycles for group in groups], dtype=float),
        np.array([group.failures for group in groups], dtype=np.int64),
        CONFIDENCE,
    )


def _order(found: McbfEstimates) -> list[int]:
    """Groups with enough failures by their figure, the others after them as they stand."""
    enough = found.failures >= FAILURES_TO_RANK
    ranked = np.flatnonzero(enough)
    ranked = ranked[np.argsort(found.mcbf_cycles[ranked], kind="stable")]
    return [*ranked.tolist(), *np.flatnonzero(~enough).tolist()]


def _scale(found: McbfEstimates) -> IntervalScale | None:
    """One scale for all; the far ends of bounds that rest on few failures run out of it."""
    sure = found.upper_cycles[found.failures >= FAILURES_TO_RANK]
    seen = np.concatenate((sure, found.mcbf_cycles * 1.5, found.lower_cycles * 1.25))
    shown = seen[np.isfinite(seen) & (seen > 0)]
    return common_scale(shown.tolist()) if len(shown) else None


def _reference(scope: Scope) -> float | None:
    figures = scope.figures
    return figures.cycles / figures.failures if figures.failures and figures.cycles else None


def _reference_words(reference: float | None) -> str:
    if reference is None:
        return ""
    return _("Dashed line: all doors in sight together, %(mcbf)s.") % {"mcbf": cycles(reference)}


def _line(
    scope: Scope,
    named: Named,
    found: McbfEstimates,
    k: int,
    *,
    scale: IntervalScale,
    reference: float | None,
) -> GroupLine:
    upper, middle = (
        None if np.isnan(each[k]) else float(each[k])
        for each in (found.upper_cycles, found.mcbf_cycles)
    )
    return GroupLine(
        label=named.label,
        url=named.url,
        note=note(found, k, named.group.doors),
        value=value(found, k),
        words=words(found, k),
        bar=draw_interval(
            # A group without cycles can be anything: its band is the whole scale.
            lower=float(np.nan_to_num(found.lower_cycles[k])),
            scale=scale,
            estimate=middle,
            upper=upper,
            reference=reference,
        ),
        why=why_mcbf(scope, named.group, found, k),
        why_question=_("Why %(value)s?") % {"value": value(found, k)},
    )


def _number_headings(heading: str) -> list[str]:
    return [
        heading,
        _("Doors"),
        _("Cycles"),
        _("Failures"),
        _("Cycles between failures"),
        _("Lower bound"),
        _("Upper bound"),
    ]


def _number_row(label: str, found: McbfEstimates, k: int, group: GroupSum) -> list[str]:
    return [
        label,
        number(group.doors),
        number(float(found.exposure_cycles[k])),
        number(int(found.failures[k])),
        number(float(found.mcbf_cycles[k])),
        number(float(found.lower_cycles[k])),
        number(float(found.upper_cycles[k])),
    ]


def _nothing(scope: Scope) -> str:
    if scope.figures.doors == 0:
        return _("No door is in sight.")
    if scope.figures.cycles <= 0:
        return _("No cycles are recorded yet, so a mean between failures cannot be given.")
    return _("No failure is recorded yet.")


HEADINGS: dict[str, Callable[[], str]] = {
    COMPONENT: lambda: _("Component"),
    DOOR_MODEL: lambda: _("Door model"),
    DEPOT: lambda: _("Depot"),
    ROUTE_KIND: lambda: _("Route kind"),
}
