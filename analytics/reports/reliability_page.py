"""How many cycles between failures: everything that the reliability page shows."""

from __future__ import annotations

from dataclasses import dataclass

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from analytics.charts.picture import Picture
from analytics.reports.basis import Basis
from analytics.reports.reliability_groups import Comparison, compare
from analytics.reports.reliability_modes import modes_by_failures, modes_by_hours
from analytics.reports.reliability_rises import RisesShown, rises_shown
from analytics.reports.reliability_scope import Scope
from analytics.reports.reliability_shares import OverShare, doors_over_share
from analytics.reports.reliability_trend import TrendShown, trend_of
from fleetdoors.templatetags.units import cycles, moment, number


@dataclass(frozen=True)
class ReliabilityPage:
    """The page's answer, section by section; `empty` says what to do first, if anything."""

    lead: str
    computed: str
    empty: str
    stale: str
    comparison: Comparison
    rises: RisesShown | None
    modes: list[Picture]
    trend: TrendShown
    over_share: OverShare


def reliability_page(scope: Scope, by: str, basis: Basis) -> ReliabilityPage:
    """Every section for the doors and failures in scope."""
    pictures = (modes_by_failures(scope), modes_by_hours(scope))
    empty = _empty(scope, basis)
    return ReliabilityPage(
        lead="" if empty else _lead(scope),
        computed=computed_words(basis),
        empty=empty,
        stale=_stale(scope),
        comparison=compare(scope, by),
        rises=rises_shown(scope, by),
        modes=[each for each in pictures if each is not None],
        trend=trend_of(scope),
        over_share=doors_over_share(scope),
    )


def computed_words(basis: Basis) -> str:
    """As of when the figures are, in a sentence; empty before the first run."""
    if basis.run is None:
        return ""
    return _("Figures of %(moment)s.") % {"moment": moment(basis.run.as_of)}


def _lead(scope: Scope) -> str:
    failures = scope.figures.failures
    what = ngettext("%(n)s failure", "%(n)s failures", failures) % {"n": number(failures)}
    if scope.component is not None:
        what = _("%(what)s of the component %(component)s") % {
            "what": what,
            "component": scope.component,
        }
    doors = ngettext("%(n)s door", "%(n)s doors", scope.figures.doors) % {
        "n": number(scope.figures.doors)
    }
    return _("%(what)s in %(cycles)s of %(doors)s.") % {
        "what": what,
        "cycles": cycles(scope.figures.cycles),
        "doors": doors,
    }


def _empty(scope: Scope, basis: Basis) -> str:
    if basis.run is None:
        return _("No figures have been computed yet. Bring in a fleet; they follow by themselves.")
    if scope.figures.doors == 0:
        return _("No door is in sight. Doors appear once they are mounted on trucks of a depot.")
    return ""


def _stale(scope: Scope) -> str:
    """Whether doors have newer figures than the sums that are shown."""
    if not scope.doors_changed:
        return ""
    return ngettext(
        "Since then the record of %(n)s door has changed; it counts here after the next full "
        "computation.",
        "Since then the record of doors has changed %(n)s times; that counts here after the next "
        "full computation.",
        scope.doors_changed,
    ) % {"n": number(scope.doors_changed)}
