"""Measures that are a part of a whole: their words, their trend, and one line of the page."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np
from django.utils.formats import date_format
from django.utils.functional import Promise
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from analytics.models import Measure
from analytics.reports.score_sums import Sums
from fleetdoors.period_strip import Period, PeriodStrip, draw_periods
from fleetdoors.templatetags.units import number, per_cent

# With fewer, a share says less than the count (rule of this program).
FEWEST = 5
# So far apart (in standard errors) two shares are taken to differ.
CLEARLY = 1.96


@dataclass(frozen=True)
class Line:
    """One measure as the page shows it."""

    key: str
    label: str
    value: str
    unit: str
    note: str
    words: str
    strip: PeriodStrip
    definition: str
    formula: str
    headings: list[str]
    rows: list[list[str]]

    @classmethod
    def of(
        cls,
        *,
        key: str,
        label: str,
        value: str,
        unit: str,
        note: str,
        shares: list[float | None],
        months: tuple[date, ...],
        definition: str,
        formula: str,
        texts: Sequence[str] = (),
    ) -> Line:
        """With its strip; `shares`: how far each month is shut, `texts`: what it holds."""
        return cls(
            key=key,
            label=label,
            value=value,
            unit=unit,
            note=note,
            words=_("%(label)s, month by month") % {"label": label},
            strip=draw_periods(
                [
                    Period(_label(months, k), None if share is None else min(max(share, 0.0), 1.0))
                    for k, share in enumerate(shares)
                ]
            ),
            definition=definition,
            formula=formula,
            headings=[_("Month"), label],
            rows=[
                [date_format(month, "F Y"), text]
                for month, text in zip(months, texts or map(per_cent, shares), strict=True)
            ],
        )


def _label(months: tuple[date, ...], k: int) -> str:
    """Every third month, and the year where it begins."""
    if months[k].month == 1 or k == 0:
        is_crowded = k == 0 and any(each.year != months[0].year for each in months[1:4])
        return date_format(months[k], "M" if is_crowded else "M Y")
    return date_format(months[k], "M") if k % 3 == 0 and months[k].month > 2 else ""


def against_most(shares: list[float | None]) -> list[float | None]:
    """The months against the worst of them."""
    most = max((each for each in shares if each is not None), default=0.0)
    return [None if each is None else each / most if most > 0 else 0.0 for each in shares]


@dataclass(frozen=True)
class ShareSpec:
    """A measure that is a part of a whole; `is_rest`: what is shown is the whole less the part."""

    measure: Measure
    label: str | Promise
    unit: str | Promise
    definition: str | Promise
    formula: str | Promise
    is_rest: bool = False
    stands_now: bool = False


SHARES = (
    ShareSpec(
        Measure.PLANNED,
        gettext_lazy("Planned work"),
        gettext_lazy("of %(n)s hours"),
        gettext_lazy(
            "Minutes of preventive work of all minutes. Tasks take the catalogue's minutes with "
            "those of a visit, and a call an hour, an assumption. Seven "
            "to eight of ten is common practice, no source."
        ),
        gettext_lazy("planned ÷ (planned + calls × 60 minutes)"),
    ),
    ShareSpec(
        Measure.OFF_ROAD,
        gettext_lazy("Doors available"),
        gettext_lazy("of %(n)s days of doors in service"),
        gettext_lazy(
            "The rest of the days of doors in service that their trucks were not off the road for "
            "a fault or held; days laid up are left out. Spells of one door that overlap count "
            "once."
        ),
        gettext_lazy("1 − days off the road ÷ days in service"),
        is_rest=True,
    ),
    ShareSpec(
        Measure.REPEATS,
        gettext_lazy("Repairs that came back"),
        gettext_lazy("of %(n)s repairs"),
        gettext_lazy(
            "Repairs of a component of a door that was repaired within the 30 days or the 2,000 "
            "cycles before (common practice, no source). They point to wrong verdicts."
        ),
        gettext_lazy("repairs that came back ÷ repairs with a component"),
    ),
    ShareSpec(
        Measure.NONE_FOUND,
        gettext_lazy("Calls without a fault found"),
        gettext_lazy("of %(n)s calls that were answered"),
        gettext_lazy("Faults closed with the word that none was found, of all that were closed."),
        gettext_lazy("no fault found ÷ calls answered"),
    ),
    ShareSpec(
        Measure.FOUND,
        gettext_lazy("Defects found at preventive work"),
        gettext_lazy("for each of %(n)s visits"),
        gettext_lazy(
            "Faults noted as found by preventive work or an inspection, for each visit with a "
            "task. Many mean that intervals are long, hardly any that they are short."
        ),
        gettext_lazy("defects found ÷ visits with preventive work"),
    ),
    ShareSpec(
        Measure.FRESH,
        gettext_lazy("Doors read within 30 days"),
        gettext_lazy("of %(n)s doors, now"),
        gettext_lazy(
            "Doors in service with an accepted reading in the 30 days before the month's end. "
            "Every due date and forecast rests on them."
        ),
        gettext_lazy("doors read ÷ doors in service"),
        stands_now=True,
    ),
)
_PER_UNIT = {Measure.PLANNED: 60.0}


def share_line(sums: Sums, months: tuple[date, ...], spec: ShareSpec) -> Line:
    """The line of one part of a whole."""
    shown = sums.last() if spec.stands_now else sums.past
    shares = sums.by_month()
    if spec.is_rest:
        shares = [None if each is None else 1 - each for each in shares]
    return Line.of(
        key=spec.measure.value,
        label=str(spec.label),
        value=share_words(shown, is_rest=spec.is_rest, decimals=2 if spec.is_rest else 0),
        unit=str(spec.unit) % {"n": number(shown.base / _PER_UNIT.get(spec.measure, 1.0))},
        note=trend_of(sums, is_rest=spec.is_rest),
        shares=shares,
        months=months,
        texts=[per_cent(each, 2 if spec.is_rest else 0) for each in shares],
        definition=str(spec.definition),
        formula=str(spec.formula),
    )


def share_words(sums: Sums, *, is_rest: bool = False, decimals: int = 0) -> str:
    """A share, or the bare count where there are too few to speak of one."""
    if sums.share is None:
        return "–"
    if sums.total < FEWEST and not is_rest:
        return number(sums.total)
    return per_cent(1 - sums.share if is_rest else sums.share, decimals)


def trend_of(sums: Sums, *, is_rest: bool = False) -> str:
    """The last three complete months against the nine before, and whether chance explains it."""
    recent, before = sums.recent(), sums.before()
    if recent.share is None or before.share is None:
        return _("Too short a record for a trend.")
    if recent.total + before.total < FEWEST:
        return _("Too few for a trend: %(n)s in a year.") % {
            "n": number(recent.total + before.total)
        }
    decimals = 2 if is_rest else 0
    said = _("Last three months %(recent)s, the months before %(before)s") % {
        "recent": share_words(recent, is_rest=is_rest, decimals=decimals),
        "before": share_words(before, is_rest=is_rest, decimals=decimals),
    }
    if is_rest:
        return f"{said}."
    verdict = _("a real change") if differ(recent, before) else _("chance explains the difference")
    return f"{said}: {verdict}."


def differ(one: Sums, other: Sums) -> bool:
    """Whether two shares lie further apart than chance would put them, 19 times in 20."""
    pooled = (one.total + other.total) / (one.base + other.base)
    spread = np.sqrt(max(pooled * (1 - min(pooled, 1.0)), 0.0) * (1 / one.base + 1 / other.base))
    apart = abs((one.share or 0.0) - (other.share or 0.0))
    return bool(spread > 0 and apart > CLEARLY * spread)
