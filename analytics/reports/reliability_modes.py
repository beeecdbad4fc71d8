"""Which ways of failing make most failures, and which keep doors off the road longest."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from analytics.charts.pareto import largest_first
from analytics.charts.picture import Picture
from analytics.reports.reliability_scope import Scope
from fleetdoors.templatetags.units import number, per_cent
from inspections.codes import FAILURE_MODES


@dataclass(frozen=True)
class _Mode:
    name: str
    failures: int
    hours: float


def modes_by_failures(scope: Scope) -> Picture | None:
    """Ways of failing by how often; None where none was noted."""
    modes = _modes(scope)
    if not modes:
        return None
    modes.sort(key=lambda mode: (-mode.failures, mode.name))
    counts, total = [mode.failures for mode in modes], scope.figures.failures
    noted = sum(counts)
    return Picture(
        id="modes-by-failures",
        finding=_half_finding(modes, _to_reach(counts, noted / 2)),
        note=_("How it failed is noted for %(noted)s of %(all)s failures.")
        % {"noted": number(noted), "all": number(total)},
        figure=largest_first([mode.name for mode in modes], counts, _("Failures")),
        headings=[_("How it failed"), _("Failures"), _("Share of those noted")],
        rows=[
            [mode.name, number(mode.failures), per_cent(mode.failures / noted)] for mode in modes
        ],
    )


def _half_finding(modes: list[_Mode], half: int) -> str:
    if len(modes) == 1:
        return _("Only one way of failing is noted: %(mode)s") % {"mode": modes[0].name}
    return ngettext(
        "%(half)s of %(all)s ways of failing makes half of the failures: %(mode)s",
        "%(half)s of %(all)s ways of failing make half of the failures, first: %(mode)s",
        half,
    ) % {"half": number(half), "all": number(len(modes)), "mode": modes[0].name}


def modes_by_hours(scope: Scope) -> Picture | None:
    """Ways of failing by hours off the road; None where no hours were noted with a way."""
    modes = [mode for mode in _modes(scope) if mode.hours > 0]
    modes.sort(key=lambda mode: (-mode.hours, mode.name))
    if not modes:
        return None
    hours = [mode.hours for mode in modes]
    total = sum(hours)
    noted = scope.figures.hours_noted
    return Picture(
        id="modes-by-hours",
        finding=_("%(mode)s keeps doors off the road longest: %(share)s of the hours")
        % {"mode": modes[0].name.capitalize(), "share": per_cent(hours[0] / total)},
        note=_("%(hours)s hours in all; noted for %(noted)s of %(all)s failures.")
        % {
            "hours": number(total),
            "noted": number(noted),
            "all": number(scope.figures.failures),
        },
        figure=largest_first([mode.name for mode in modes], hours, _("Hours off the road")),
        headings=[_("How it failed"), _("Hours off the road"), _("Share"), _("Failures")],
        rows=[
            [mode.name, number(mode.hours), per_cent(mode.hours / total), number(mode.failures)]
            for mode in modes
        ],
    )


def _modes(scope: Scope) -> list[_Mode]:
    """Each way of failing that was noted, with its failures and hours."""
    return [
        _Mode(str(FAILURE_MODES[mode.code].name), mode.failures, mode.hours)
        for mode in scope.figures.modes
        if mode.code in FAILURE_MODES
    ]


def _to_reach(counts: list[int], wanted: float) -> int:
    """How many of the largest it takes to reach an amount."""
    return int(np.searchsorted(np.cumsum(counts), wanted, side="left")) + 1
