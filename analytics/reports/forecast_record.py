"""How good the forecasts were: due dates and demand of past dates, and what they taught."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from django.urls import reverse
from django.utils.translation import gettext as _

from analytics.kernel.demand_calibration import DemandCalibration
from analytics.models import ForecastCheck, ForecastScore
from analytics.models.forecast_check import ForecastScoreQuerySet
from analytics.reports.forecast_words import (
    DEMAND,
    DUE_DATES,
    RANGES,
    Held,
    Promise,
    added_up,
    demand_sentence,
    due_sentence,
    nearness,
    standing_sentence,
    sureness,
)
from fleetdoors.models import Component
from fleetdoors.templatetags.units import between, day, day_range, number, per_cent


@dataclass(frozen=True)
class ScoreLine:
    """One depot's or part's forecasts as a row of a table."""

    label: str
    note: str
    url: str
    forecasts: str
    inside: str
    expected: str
    actual: str
    error: str
    naive_error: str
    nearness: str
    verdict: str


@dataclass(frozen=True)
class FactorLine:
    """How often a component fails against what its age says."""

    label: str
    url: str
    factor: str
    range: str
    weeks: str
    words: str


@dataclass(frozen=True)
class ForecastRecord:
    """The page; `empty` says why there is nothing to show, if there is nothing."""

    lead: str
    empty: str
    due_sentence: str
    demand_sentence: str
    due_by_depot: list[ScoreLine]
    demand_by_depot: list[ScoreLine]
    demand_by_part: list[ScoreLine]
    due_standing: str
    demand_standing: str
    part_standing: str
    factors: list[FactorLine]


def forecast_record(depot_ids: tuple[int, ...] | None) -> ForecastRecord:
    """The newest check at the depots in sight; runs five queries."""
    check = ForecastCheck.objects.finished().first()
    if check is None:
        return _nothing(_("The forecasts of past dates have not been repeated yet."))
    if not check.origins:
        return _nothing(
            _("The record is too short: a past date counts once readings go back 120 days from it.")
        )
    scores = ForecastScore.objects.shown().at_depots(depot_ids)
    due = _lines(scores.due_dates(), "depot__code", "depot__name", DUE_DATES)
    demand = _lines(scores.demand(), "depot__code", "depot__name", DEMAND)
    parts = _lines(scores.demand(), "part__part_number", "part__name", DEMAND)
    return ForecastRecord(
        lead=_lead(check),
        empty="",
        due_sentence=due_sentence(due.total) if due.total.forecasts else _no_due_dates(),
        demand_sentence=demand_sentence(demand.total) if demand.total.forecasts else _no_demand(),
        due_by_depot=due.lines,
        demand_by_depot=demand.lines,
        demand_by_part=parts.lines,
        due_standing=due.standing,
        demand_standing=demand.standing,
        part_standing=parts.standing,
        factors=_factor_lines(check),
    )


@dataclass(frozen=True)
class _Table:
    lines: list[ScoreLine]
    total: Held
    standing: str


def _lines(scores: ForecastScoreQuerySet, code: str, name: str, promise: Promise) -> _Table:
    """One line per code, and everything added up; runs one query."""
    rows = scores.summed_by(code, name)
    held = [
        Held(
            int(row["forecasts_sum"]),
            int(row["inside_sum"]),
            float(row["error_sum"]),
            float(row["naive_error_sum"]),
        )
        for row in rows
    ]
    lines = [
        _line(row, each, code=code, name=name, promise=promise)
        for row, each in zip(rows, held, strict=True)
    ]
    kinds = [
        (str(row[name] or row[code]), sureness(each, promise))
        for row, each in zip(rows, held, strict=True)
    ]
    return _Table(lines, added_up(held), standing_sentence(kinds) if kinds else "")


def _line(
    row: Mapping[str, Any], held: Held, *, code: str, name: str, promise: Promise
) -> ScoreLine:
    is_part = code.startswith("part")
    return ScoreLine(
        label=str(row[code]),
        note=str(row[name] or ""),
        url=reverse("part-detail", args=[row[code]]) if is_part else "",
        forecasts=number(held.forecasts),
        inside=per_cent(held.share),
        expected=number(row["expected_sum"]),
        actual=number(row["actual_sum"]),
        error=number(held.mean_error, 1),
        naive_error=number(held.mean_naive_error, 1),
        nearness=nearness(held),
        verdict=str(RANGES[sureness(held, promise)]),
    )


def _factor_lines(check: ForecastCheck) -> list[FactorLine]:
    """Components by how far they are from what their age says, worst first; runs one query."""
    factors = {code: DemandCalibration(**kept) for code, kept in check.factors.items()}
    names = {each.code: str(each) for each in Component.objects.filter(code__in=factors)}
    worst_first = sorted(factors.items(), key=lambda item: -item[1].factor)
    return [
        FactorLine(
            label=names.get(code, code),
            url=reverse("component-detail", args=[code]),
            factor=number(factor.factor, 2),
            range=between(factor.lower, factor.upper, 2),
            weeks=number(factor.weeks),
            words=_factor_words(factor),
        )
        for code, factor in worst_first
    ]


def _factor_words(factor: DemandCalibration) -> str:
    if factor.alert:
        return _("much more often than its age says: look for a new revision or a rough use")
    if factor.lower > 1:
        return _("more often than its age says")
    if factor.upper < 1:
        return _("less often than its age says")
    return _("as its age says")


def _lead(check: ForecastCheck) -> str:
    dates = day_range(check.first_origin_on, check.last_origin_on)
    said = _(
        "Forecasts of %(count)s past dates (%(dates)s) repeated with only what was entered by "
        "then, and held against what happened. Checked %(on)s."
    ) % {"count": number(check.origins), "dates": dates, "on": day(check.as_of)}
    if check.doors >= check.doors_on_record:
        return said
    return _("%(said)s On %(doors)s of %(all)s doors, evenly chosen.") % {
        "said": said,
        "doors": number(check.doors),
        "all": number(check.doors_on_record),
    }


def _no_due_dates() -> str:
    return _("No range of a forecast due date has passed yet at the depots in sight.")


def _no_demand() -> str:
    return _("No part was used or expected at the depots in sight in twelve weeks after a date.")


def _nothing(why: str) -> ForecastRecord:
    return ForecastRecord("", why, "", "", [], [], [], "", "", "", [])
