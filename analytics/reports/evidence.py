"""Lines of evidence that several pages show: how fast a door is used, and when it was computed."""

from __future__ import annotations

from dataclasses import dataclass

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from analytics.models import DoorFigures, UsageBasis
from analytics.reports.basis import Basis
from fleetdoors.templatetags.units import between, cycles, moment, number, per_day


@dataclass(frozen=True)
class Evidence:
    """A figure with its name and what it rests on."""

    label: str
    value: str
    note: str


def rate_evidence(figures: DoorFigures | None) -> list[Evidence]:
    """Cycles now and cycles a day, with the readings behind them."""
    if figures is None:
        return []
    return [
        Evidence(_("Cycles now"), cycles(figures.cycles_now), _carried_forward(figures)),
        Evidence(_("Cycles a day"), per_day(figures.cycles_per_day), rate_note(figures)),
    ]


def rate_note(figures: DoorFigures) -> str:
    """How sure a rate is, and from how many readings it comes."""
    sure = _("%(range)s a day, 8 times in 10") % {"range": rate_range(figures)}
    return f"{sure}; {basis_words(figures)}"


def rate_range(figures: DoorFigures) -> str:
    """The 80 % interval of the cycles a day."""
    decimals = 1 if figures.upper < 100 else 0
    return between(figures.lower, figures.upper, decimals)


def basis_words(figures: DoorFigures) -> str:
    """What the usage of a door rests on, with the number of readings."""
    counted = ngettext("%(n)s reading", "%(n)s readings", figures.accepted) % {
        "n": number(figures.accepted)
    }
    return {
        UsageBasis.OWN_READINGS: _("from %(counted)s of its own") % {"counted": counted},
        UsageBasis.SIMILAR_DOORS: _("estimated from similar doors; %(counted)s of its own")
        % {"counted": counted},
        UsageBasis.STALE: _("from %(counted)s of its own, the last older than 120 days")
        % {"counted": counted},
        UsageBasis.NONE: _("estimated from similar doors; nobody has read this counter"),
    }[UsageBasis(figures.basis)]


def _carried_forward(figures: DoorFigures) -> str:
    if figures.last_read_at is None:
        return _("from where the record begins, carried forward at the rate below")
    return _("the counter showed %(value)s on %(moment)s; carried forward at the rate below") % {
        "value": number(figures.last_value),
        "moment": moment(figures.last_read_at),
    }


def computed_evidence(basis: Basis) -> list[Evidence]:
    """When the figures were computed, and whether their intervals were tried on this fleet."""
    if basis.run is None:
        return []
    tried = basis.run.parameters.get("calibration", {})
    note = _("intervals not yet calibrated: this fleet has too few past forecasts to test them on")
    if tried.get("calibrated"):
        forecasts = tried.get("forecasts", 0)
        note = _("intervals calibrated on %(n)s past forecasts of this fleet") % {
            "n": number(forecasts)
        }
    return [Evidence(_("Figures of"), moment(basis.run.as_of), note)]
