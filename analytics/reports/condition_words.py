"""Measured values, their limits and how they stand, in words."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
from django.utils.translation import gettext as _

from analytics.datasets.clock import EPOCH_DATE
from analytics.datasets.measurements import JUDGEMENTS, MeasurementRows
from fleetdoors.templatetags.units import UNKNOWN, measured
from inspections.models import Judgement
from inspections.quantities import QUANTITIES

_DECIMALS = {"V": 1, "A": 1, "Ω": 2, "s": 1}


@dataclass(frozen=True)
class Standing:
    """How the latest value of something stands: the word for it, and a sentence."""

    judgement: Judgement
    sentence: str


def day_of(epoch_day: float) -> date:
    """The date of a wall-clock day."""
    return EPOCH_DATE + timedelta(days=int(epoch_day // 1))


def amount(value: float, code: str) -> str:
    """A value of a quantity with its unit; a grade in its words."""
    quantity = QUANTITIES[code]
    if quantity.grades:
        return str(dict(quantity.grades).get(value, UNKNOWN))
    return measured(value, quantity.unit, _DECIMALS.get(quantity.unit, 0))


def judgement_of(rows: MeasurementRows, row: int) -> Judgement:
    """How a measurement stood to the limits kept with it."""
    return JUDGEMENTS[int(rows.judgement[row])]


def standing_sentence(judgement: Judgement, value: str, day: str) -> str:
    """One sentence about a latest value."""
    sentence = {
        Judgement.HOLDS: _("It holds: %(value)s on %(day)s."),
        Judgement.NEAR: _("It is near its limit: %(value)s on %(day)s."),
        Judgement.PAST: _("It is past its limit: %(value)s on %(day)s."),
        Judgement.NO_LIMIT: _("There is nothing to compare it with: %(value)s on %(day)s."),
    }[judgement]
    return sentence % {"value": value, "day": day}


def limits_words(rows: MeasurementRows, row: int, code: str) -> str:
    """The limits kept with one measurement."""
    sides = (
        (rows.near_low[row], rows.limit_low[row], _("near below %(v)s"), _("past below %(v)s")),
        (rows.near_high[row], rows.limit_high[row], _("near above %(v)s"), _("past above %(v)s")),
    )
    said = []
    for near, limit, near_words, past_words in sides:
        if np.isfinite(near) and near != limit:
            said.append(near_words % {"v": amount(float(near), code)})
        if np.isfinite(limit):
            said.append(past_words % {"v": amount(float(limit), code)})
    return ", ".join(said)
