"""The coil cable of a door: its resistance, whether it rises, and when it is at its limit."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from analytics.assessment.cable import CableAssessed
from analytics.charts.condition import CableDrawn, cable_over_cycles
from analytics.charts.picture import Picture
from analytics.kernel.cable_trend import (
    ACT_FACTOR,
    ACT_SHARE_OF_VOLTS,
    FEWEST_POINTS,
    SUDDEN_RISE,
    WATCH_FACTOR,
    CableFound,
    CableState,
    CableTrend,
)
from analytics.reports.condition_words import Standing, day_of
from fleetdoors.templatetags.units import UNKNOWN, between, day, measured, number, per_cent
from inspections.models import Judgement

MILLI, TREND_CYCLES = 1_000.0, 10_000
_STANDS = {
    CableState.HOLDS: Judgement.HOLDS,
    CableState.WATCH: Judgement.NEAR,
    CableState.ACT: Judgement.PAST,
    CableState.SUDDEN: Judgement.PAST,
}
_SEVERITY = {Judgement.NO_LIMIT: 0, Judgement.HOLDS: 0, Judgement.NEAR: 1, Judgement.PAST: 2}


@dataclass(frozen=True)
class CableShown:
    """What is said of the cable; `standing` None = the present cable has no measurement yet."""

    standing: Standing | None
    sentences: list[str]
    picture: Picture | None


def cable_shown(cable: CableAssessed, by_voltage: Judgement | None) -> CableShown | None:
    """The cable over cycles; None where nothing at all was measured of it.

    `by_voltage` = how the last voltage at the motor stood to its own limits.
    """
    pairs, found = cable.pairs, cable.found
    if len(pairs.row) == 0:
        said = [_left_out(pairs.left_out)] if pairs.left_out else []
        return CableShown(None, said, None) if said else None
    if found is None:
        since = day(day_of(cable.changed_day)) if cable.changed_day is not None else UNKNOWN
        sentence = _(
            "The cable was changed, repaired or re-coiled on %(day)s and has not been measured "
            "since with its current."
        )
        return CableShown(None, [sentence % {"day": since}], None)
    standing = Standing(_STANDS[found.state], _sentence(cable, found))
    sentences = [
        _trend_sentence(cable, found),
        _jump_sentence(cable),
        _governs(_STANDS[found.state], by_voltage),
    ]
    return CableShown(
        standing, [each for each in sentences if each], _picture(cable, found, standing)
    )


def _sentence(cable: CableAssessed, found: CableFound) -> str:
    last = int(cable.used[-1])
    facts = {
        "now": _milliohm(cable.ohm[last]),
        "new": _milliohm(found.as_new_ohm),
        "day": day(day_of(cable.pairs.day[last])),
        "share": per_cent(SUDDEN_RISE),
    }
    return {
        CableState.HOLDS: _("It holds: %(now)s at 20 °C on %(day)s, as new %(new)s."),
        CableState.WATCH: _("Watch it: %(now)s at 20 °C on %(day)s, as new %(new)s."),
        CableState.ACT: _("It is past its limit: %(now)s at 20 °C on %(day)s, as new %(new)s."),
        CableState.SUDDEN: _(
            "It rose by more than %(share)s at once, to %(now)s at 20 °C on %(day)s: a joint or a "
            "connector rather than wear."
        ),
    }[found.state] % facts


def _trend_sentence(cable: CableAssessed, found: CableFound) -> str:
    trend, points = found.trend, len(cable.used)
    if trend is None or not trend.rises:
        if points < FEWEST_POINTS:
            return _("No trend: %(n)s measurements of this cable, and it takes %(least)s.") % {
                "n": number(points),
                "least": number(FEWEST_POINTS),
            }
        return _("No trend: over %(n)s measurements it does not clearly rise with cycles.") % {
            "n": number(points)
        }
    per = MILLI * TREND_CYCLES
    rises = _("It rises by %(slope)s mΩ per %(cycles)s cycles (%(range)s, 9 times in 10).") % {
        "slope": number(per * trend.slope_ohm_per_cycle, 1),
        "cycles": number(TREND_CYCLES),
        "range": between(per * trend.slope_lower, per * trend.slope_upper, 1),
    }
    last = float(cable.pairs.at_cycles[cable.used[-1]])
    watch = _crossing(cable.watch_trend, last, _("watch limit"))
    return " ".join((rises, watch, _crossing(trend, last, _("act limit")))).replace("  ", " ")


def _crossing(trend: CableTrend | None, last_cycles: float, limit: str) -> str:
    if trend is None or trend.crossing_cycles is None:
        return ""
    facts = {
        "limit": limit,
        "at": number(_hundreds(trend.crossing_cycles)),
        "range": _range(trend),
    }
    if trend.crossing_cycles <= last_cycles:
        return _("It passed the %(limit)s at about %(at)s cycles%(range)s.") % facts
    return _("It reaches the %(limit)s at about %(at)s cycles%(range)s.") % facts


def _range(trend: CableTrend) -> str:
    """The range in brackets; nothing where it is narrower than a crossing can be told."""
    ends = (trend.crossing_lower_cycles, trend.crossing_upper_cycles)
    low, high = (None if end is None else _hundreds(end) for end in ends)
    return "" if low is None or low == high else f" ({between(low, high)})"


def _hundreds(cycles: float) -> float:
    """Cycles as finely as a crossing can be told."""
    return round(cycles, -2)


def _jump_sentence(cable: CableAssessed) -> str:
    """A sudden rise that the latest measurement no longer shows."""
    if len(cable.jumps) == 0 or cable.jumps[-1] == cable.used[-1]:
        return ""
    at = number(float(cable.pairs.at_cycles[cable.jumps[-1]]))
    return _("By %(at)s cycles it had risen by more than %(share)s at once, as joints do.") % {
        "at": at,
        "share": per_cent(SUDDEN_RISE),
    }


def _governs(by_resistance: Judgement, by_voltage: Judgement | None) -> str:
    """Of the two rules, against the cable when new and by the volts lost, the first that trips."""
    if by_voltage is None:
        return ""
    difference = _SEVERITY[by_resistance] - _SEVERITY[by_voltage]
    if difference > 0:
        return _("The resistance warns before the voltage at the motor does, and goes before it.")
    if difference < 0:
        return _("The voltage at the motor is %(words)s, and goes before the resistance.") % {
            "words": by_voltage.label
        }
    if _SEVERITY[by_voltage]:
        return _("The voltage at the motor says the same.")
    return ""


def _picture(cable: CableAssessed, found: CableFound, standing: Standing) -> Picture:
    pairs = cable.pairs
    # A current too low for a verdict is kept in the table, not in the picture.
    before = np.flatnonzero(~cable.is_present)
    drawn = CableDrawn(
        before_cycles=pairs.at_cycles[before],
        before_ohm=cable.ohm[before],
        at_cycles=pairs.at_cycles[cable.used],
        ohm=cable.ohm[cable.used],
        watch_ohm=cable.watch_ohm,
        act_ohm=found.act_ohm,
        trend=found.trend,
    )
    return Picture(
        id="cable-over-cycles",
        finding=standing.sentence,
        note=_note(cable, found),
        figure=cable_over_cycles(drawn),
        headings=[
            _("Measured on"),
            _("Lifetime cycles"),
            _("Lost on the way"),
            _("Current"),
            _("Temperature"),
            _("Resistance at 20 °C"),
            _("Counts"),
        ],
        rows=[_row(cable, row) for row in range(len(pairs.row) - 1, -1, -1)],
    )


def _note(cable: CableAssessed, found: CableFound) -> str:
    said = [
        ngettext("%(n)s measurement of this cable", "%(n)s measurements of this cable", n)
        % {"n": number(n)}
        for n in (len(cable.used),)
    ]
    if cable.changed_day is not None:
        said.append(_("on the door since %(day)s") % {"day": day(day_of(cable.changed_day))})
    if cable.pairs.left_out:
        said.append(_left_out(cable.pairs.left_out).rstrip("."))
    limits = _(
        "watch at %(watch)s (%(times)g times as new), act at %(act)s (the lower of %(most)g times "
        "as new and %(share)s of the board's volts); from a budget of the voltage drop, no "
        "maker's figure known"
    ) % {
        "watch": _milliohm(cable.watch_ohm),
        "times": WATCH_FACTOR,
        "act": _milliohm(found.act_ohm),
        "most": ACT_FACTOR,
        "share": per_cent(ACT_SHARE_OF_VOLTS),
    }
    return "; ".join([*said, limits]) + "."


def _left_out(count: int) -> str:
    return ngettext(
        "%(n)s measurement was left out: without its current, without cycles, or with more volts "
        "at the motor than at the board.",
        "%(n)s measurements were left out: without their current, without cycles, or with more "
        "volts at the motor than at the board.",
        count,
    ) % {"n": number(count)}


def _row(cable: CableAssessed, row: int) -> list[str]:
    pairs = cable.pairs
    if not cable.is_present[row]:
        counts = _("cable before")
    else:
        counts = _("yes") if row in cable.used else _("no, current too low")
    return [
        day(day_of(pairs.day[row])),
        number(float(pairs.at_cycles[row])),
        f"{number(float(pairs.drop_volts[row]), 2)} V",
        f"{number(float(pairs.amps[row]), 1)} A",
        measured(float(pairs.celsius[row]), "°C")
        if np.isfinite(pairs.celsius[row])
        else _("taken as %(reference)s") % {"reference": measured(20, "°C")},
        _milliohm(float(cable.ohm[row])),
        counts,
    ]


def _milliohm(ohm: float) -> str:
    return f"{number(MILLI * float(ohm))} mΩ"
