"""What fails more often than before, and since when; nothing where nothing does."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from analytics.assessment.groups import COMPONENT
from analytics.assessment.periods import PERIOD_DAYS
from analytics.assessment.rises import WATCHED_PERIODS, YEARS_TO_A_FALSE_ALARM, Rise
from analytics.charts.picture import Picture
from analytics.charts.rises import failures_against_before
from analytics.datasets.clock import EPOCH_DATE
from analytics.reports.reliability_groups import HEADINGS, Named, named_groups
from analytics.reports.reliability_scope import Scope
from fleetdoors.templatetags.units import day, number

DRAWN_AT_MOST = 6


@dataclass(frozen=True)
class RisesShown:
    """A picture for each group that fails more often, the surest first, and what that is worth."""

    pictures: list[Picture]
    meaning: str


def rises_shown(scope: Scope, by: str) -> RisesShown | None:
    """Components, and the groups compared, that fail more often; None where none does."""
    groupings = dict.fromkeys((COMPONENT, by))
    found, watched = [], 0
    for each in groupings:
        named = named_groups(scope, each)
        watched += sum(one.group.watched.is_watched for one in named)
        found += [
            (each, one, one.group.watched.rise)
            for one in named
            if one.group.watched.rise is not None
        ]
    if not found:
        return None
    found.sort(key=lambda each: each[2].foreseen / max(each[2].seen, 1.0))
    pictures = [
        _picture(kind, one, rise, place)
        for place, (kind, one, rise) in enumerate(found[:DRAWN_AT_MOST])
    ]
    return RisesShown(pictures, _meaning(watched, len(found)))


def _picture(by: str, named: Named, rise: Rise, place: int) -> Picture:
    begins = [_day(rise.first_day + PERIOD_DAYS * k) for k in range(len(rise.failures))]
    return Picture(
        id=f"rise-{place + 1}",
        finding=_finding(by, named, rise),
        note=_(
            "Bars: failures in each four weeks. Line: as many as the rate before would have "
            "brought for the cycles run then; the last %(watched)s are watched."
        )
        % {"watched": number(WATCHED_PERIODS)},
        figure=failures_against_before(begins, rise.failures, rise.expected, _day(rise.since_day)),
        headings=[_("Four weeks from"), _("Failures"), _("At the rate before")],
        rows=[
            [day(each), number(rise.failures[k]), number(rise.expected[k], 1)]
            for k, each in enumerate(begins)
        ],
    )


def _finding(by: str, named: Named, rise: Rise) -> str:
    seen = ngettext("%(n)s failure", "%(n)s failures", round(rise.seen)) % {"n": number(rise.seen)}
    facts = {
        "kind": HEADINGS[by](),
        "group": named.label,
        "since": day(_day(rise.since_day)),
        "seen": seen,
        "foreseen": number(rise.foreseen, 1),
    }
    if by == COMPONENT:
        return (
            _(
                "%(group)s fails more often than before, since about the week of %(since)s: "
                "%(seen)s where the rate before brings %(foreseen)s"
            )
            % facts
        )
    return (
        _(
            "%(kind)s %(group)s: doors fail more often than before, since about the week of "
            "%(since)s: %(seen)s where the rate before brings %(foreseen)s"
        )
        % facts
    )


def _meaning(watched: int, found: int) -> str:
    said = ngettext(
        "Where nothing has changed, a group is named by chance about once in %(years)s years, "
        "with repairs in clusters up to twice as often. %(n)s group has record enough to be "
        "watched.",
        "Where nothing has changed, a group is named by chance about once in %(years)s years, "
        "with repairs in clusters up to twice as often. %(n)s groups have record enough to be "
        "watched: expect one false alarm among them about every %(every)s.",
        watched,
    ) % {
        "years": number(YEARS_TO_A_FALSE_ALARM),
        "n": number(watched),
        "every": _every(YEARS_TO_A_FALSE_ALARM / max(watched, 1)),
    }
    if found <= DRAWN_AT_MOST:
        return said
    return _("%(said)s %(found)s are named; the steepest are shown.") % {
        "said": said,
        "found": number(found),
    }


def _every(years: float) -> str:
    if years >= 1.5:
        return _("%(n)s years") % {"n": number(years)}
    months = max(round(12 * years), 1)
    return ngettext("%(n)s month", "%(n)s months", months) % {"n": number(months)}


def _day(since_1970: float) -> date:
    return EPOCH_DATE + timedelta(days=int(since_1970))
