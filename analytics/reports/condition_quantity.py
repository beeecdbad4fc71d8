"""One measured quantity of a door: how it stands, its picture and its numbers."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from analytics.charts.condition import Measured, quantity_over_cycles
from analytics.charts.picture import Picture
from analytics.datasets.columns import Floats, Ints
from analytics.datasets.measurements import MeasurementRows
from analytics.reports.condition_words import (
    amount,
    day_of,
    judgement_of,
    limits_words,
    standing_sentence,
)
from fleetdoors.templatetags.units import day, measured, number
from fleetdoors.units_in_use import scale_in_use
from inspections.models import Judgement
from inspections.quantities import QUANTITIES


@dataclass(frozen=True)
class QuantityShown:
    """A quantity with its sentence; no picture where no cycles are known."""

    code: str
    name: str
    judgement: Judgement
    sentence: str
    note: str
    picture: Picture | None
    headings: list[str]
    rows: list[list[str]]

    @property
    def anchor(self) -> str:
        """Where on the page it stands."""
        return self.code.replace("_", "-")


def quantity_shown(
    rows: MeasurementRows, code: str, at_cycles: Floats, source: str
) -> QuantityShown:
    """The quantity over cycles; `source` = where the limits of its latest value are from."""
    chosen = rows.of(code)
    last = int(chosen[-1])
    judgement = judgement_of(rows, last)
    when = day(day_of(rows.day[last]))
    sentence = standing_sentence(judgement, amount(float(rows.value[last]), code), when)
    note = _note(rows, chosen, code, source)
    headings = [
        _("Measured on"), _("Lifetime cycles"), _("Value"), _("It"), _("Limits kept with it"),
        _("Remark"),
    ]  # fmt: skip
    table = [_row(rows, row, code, at_cycles) for row in chosen[::-1].tolist()]
    return QuantityShown(
        code=code,
        name=str(QUANTITIES[code].name),
        judgement=judgement,
        sentence=sentence,
        note=note,
        picture=_picture(rows, chosen, code, at_cycles, Words(sentence, note, headings, table)),
        headings=headings,
        rows=table,
    )


@dataclass(frozen=True)
class Words:
    """What stands around a picture."""

    finding: str
    note: str
    headings: list[str]
    rows: list[list[str]]


def _picture(
    rows: MeasurementRows, chosen: Ints, code: str, at_cycles: Floats, words: Words
) -> Picture | None:
    drawn = chosen[np.isfinite(at_cycles[chosen])]
    if len(drawn) == 0:
        return None
    scale = scale_in_use(QUANTITIES[code].unit)
    points = Measured(
        at_cycles=at_cycles[drawn],
        value=scale.shown(rows.value[drawn]),
        is_when_new=rows.is_when_new[drawn],
        limit_low=scale.shown(rows.limit_low[drawn]),
        near_low=scale.shown(rows.near_low[drawn]),
        near_high=scale.shown(rows.near_high[drawn]),
        limit_high=scale.shown(rows.limit_high[drawn]),
    )
    return Picture(
        id=code.replace("_", "-") + "-over-cycles",
        finding=words.finding,
        note=words.note,
        figure=quantity_over_cycles(points, scale.unit),
        headings=words.headings,
        rows=words.rows,
    )


def _note(rows: MeasurementRows, chosen: Ints, code: str, source: str) -> str:
    """How many, the value when new, the limits and where they are from."""
    said = [
        ngettext("%(n)s measurement", "%(n)s measurements", len(chosen))
        % {"n": number(len(chosen))}
    ]
    new = chosen[rows.is_when_new[chosen]]
    if len(new):
        said.append(_("when new %(value)s") % {"value": amount(float(rows.value[new[-1]]), code)})
    else:
        said.append(_("no value from when the door was put into service"))
    limits = limits_words(rows, int(chosen[-1]), code)
    if limits:
        said.append(f"{limits} ({source})" if source else limits)
    return "; ".join(said) + "."


def _row(rows: MeasurementRows, row: int, code: str, at_cycles: Floats) -> list[str]:
    return [
        day(day_of(rows.day[row])),
        number(float(at_cycles[row])),
        amount(float(rows.value[row]), code),
        str(judgement_of(rows, row).label),
        limits_words(rows, row, code) or _("none"),
        _remark(rows, row),
    ]


def _remark(rows: MeasurementRows, row: int) -> str:
    said = [_("when put into service")] if rows.is_when_new[row] else []
    if rows.engine_running[row]:
        said.append(_("engine running"))
    if np.isfinite(rows.amps[row]):
        said.append(f"{number(float(rows.amps[row]), 1)} A")
    if np.isfinite(rows.celsius[row]):
        said.append(measured(float(rows.celsius[row]), "°C"))
    return ", ".join(said)
