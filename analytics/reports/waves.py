"""When a fleet fitted together reaches its spring and cable wave, in words with its strip."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
from django.urls import reverse
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from analytics.assessment.waves import PERIOD_DAYS, PERIODS, WaveFound, assess_wave
from analytics.assessment.work_base import WorkBase
from analytics.datasets.columns import Table
from analytics.datasets.waves import fetch_stays, fetch_wearing_components
from analytics.kernel.posterior import WeibullDraws
from analytics.models import ComponentLife, Evidence, LifeEvidence
from fleetdoors.models import Component
from fleetdoors.period_strip import Period, PeriodStrip, draw_periods
from fleetdoors.templatetags.units import between, cycles, day_range, number, per_cent

# Less of a rise than this is no wave.
WAVE = 1.25


@dataclass(frozen=True)
class Wave:
    """A component's replacements ahead; `problem` stands in place of the rest."""

    label: str
    url: str
    problem: str
    sentence: str = ""
    note: str = ""
    strip: PeriodStrip | None = None
    headings: tuple[str, ...] = ()
    rows: tuple[tuple[str, ...], ...] = ()


def waves(base: WorkBase, usage: float, first: date) -> tuple[Wave, ...]:
    """Of every component that breaks after many bends; runs four queries."""
    components = fetch_wearing_components()
    stays = fetch_stays(components, base.doors.ids.tolist())
    kept = dict(
        LifeEvidence.objects.current()
        .filter(component__in=components)
        .values_list("component_id", "figures")
    )
    evidence = dict(
        ComponentLife.objects.current()
        .filter(component__in=components)
        .values_list("component_id", "evidence")
    )
    return tuple(
        _wave(
            base,
            component,
            stays[stays["component"] == component.pk],
            _Life(kept.get(component.pk, {}).get("forecast_draws"), evidence.get(component.pk)),
            usage=usage,
            first=first,
        )
        for component in components
        if (stays["component"] == component.pk).any()
    )


@dataclass(frozen=True)
class _Life:
    """A component's likely lives, None where none can be given, and what they rest on."""

    drawn: dict[str, list[float]] | None
    evidence: str | None

    @property
    def is_mostly_prior(self) -> bool:
        """Whether the life rests on what is usual more than on this fleet."""
        return self.evidence != Evidence.DATA


def _url(component: Component) -> str:
    return reverse("component-detail", args=[component.code])


def _wave(
    base: WorkBase, component: Component, own: Table, life: _Life, *, usage: float, first: date
) -> Wave:
    if not life.drawn:
        return Wave(
            label=str(component),
            url=_url(component),
            problem=_("Its life is not known well enough to foresee anything."),
        )
    draws = WeibullDraws(np.array(life.drawn["shape"]), np.array(life.drawn["scale_cycles"]))
    found = assess_wave(base, own, draws, usage)
    total = found.failing + found.planned
    starts = [first + timedelta(days=PERIOD_DAYS * k) for k in range(PERIODS)]
    full = max(float(total.max()), 1e-9)
    return Wave(
        label=str(component),
        url=_url(component),
        problem="",
        sentence=_sentence(found, starts),
        note=_note(found, is_mostly_prior=life.is_mostly_prior),
        strip=draw_periods(
            [Period(_label(starts, k), float(total[k]) / full) for k in range(PERIODS)]
        ),
        headings=(
            _("Four weeks"),
            _("Fail"),
            _("Changed by plan"),
            _("Low (1 in 10)"),
            _("High (1 in 10)"),
        ),
        rows=tuple(_row(found, starts, k) for k in range(PERIODS)),
    )


def _row(found: WaveFound, starts: list[date], k: int) -> tuple[str, ...]:
    return (
        day_range(starts[k], starts[k] + timedelta(days=PERIOD_DAYS - 1)),
        number(float(found.failing[k]), 1),
        number(float(found.planned[k]), 1),
        number(float(found.lower[k])),
        number(float(found.upper[k])),
    )


def _label(starts: list[date], k: int) -> str:
    """The year where it begins, and the month every third period."""
    if k == 0 or starts[k].year != starts[k - 1].year:
        is_crowded = k == 0 and any(each.year != starts[0].year for each in starts[1:4])
        return date_format(starts[k], "M" if is_crowded else "M Y")
    return date_format(starts[k], "M") if k % 4 == 0 and starts[k].month > 2 else ""


def _sentence(found: WaveFound, starts: list[date]) -> str:
    total = found.failing + found.planned
    year = float(total[:13].sum())
    peak = int(np.argmax(total))
    now = float(total[0])
    said = _("About %(year)s in the next 52 weeks, %(now)s in the next four.") % {
        "year": number(year, 0 if year >= 10 else 1),
        "now": number(now, 0 if now >= 10 else 1),
    }
    if total[peak] < WAVE * max(now, 1e-9) or peak == 0:
        return _("%(said)s No wave within two years.") % {"said": said}
    return _(
        "%(said)s The wave: most in the four weeks from %(day)s, about %(most)s "
        "(%(range)s, 8 times in 10)."
    ) % {
        "said": said,
        "day": date_format(starts[peak], "j M Y"),
        "most": number(float(total[peak]), 0 if total[peak] >= 10 else 1),
        "range": between(float(found.lower[peak]), float(found.upper[peak])),
    }


def _note(found: WaveFound, *, is_mostly_prior: bool) -> str:
    said = [_("%(n)s fitted on doors in service.") % {"n": number(found.fitted)}]
    if found.planned_at_cycles is not None:
        said.append(
            _("Changed by plan at %(age)s, as this fleet has done so far.")
            % {"age": cycles(found.planned_at_cycles)}
        )
    if found.unknown_share:
        said.append(
            _("The age of %(share)s is unknown and averaged over what it may be.")
            % {"share": per_cent(found.unknown_share)}
        )
    if is_mostly_prior:
        said.append(_("Mostly prior: few failures of this fleet stand behind it."))
    return " ".join(said)
