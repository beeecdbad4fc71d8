"""In what condition a door is: each measured quantity against the limits kept with it."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from datetime import datetime

import numpy as np
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from analytics.assessment.cable import assess_door_cable, pair_measurements
from analytics.datasets.cable_work import fetch_cable_work
from analytics.datasets.columns import Floats
from analytics.datasets.measurements import QUANTITY_CODES, MeasurementRows, fetch_measurements
from analytics.kernel.exposure import cycles_at
from analytics.reports.basis import Basis
from analytics.reports.condition_cable import CableShown, cable_shown
from analytics.reports.condition_quantity import QuantityShown, quantity_shown
from analytics.reports.condition_words import amount, day_of, judgement_of
from analytics.reports.followed_door import FollowedDoor, follow_door
from fleetdoors.models import Caution
from fleetdoors.templatetags.units import day, number
from inspections.kept_words import as_read
from inspections.models import Judgement, Measurement
from inspections.quantities import GROUP_NAMES, QUANTITIES, Group
from inspections.symptoms import cautions_in_order
from inspections.views.place import Place

# Worst first; what has no limit is neither good nor bad and comes last.
_ORDER = (Judgement.PAST, Judgement.NEAR, Judgement.HOLDS, Judgement.NO_LIMIT)


@dataclass(frozen=True)
class Pressing:
    """Something near or past its limit, with the place on the page that shows it."""

    label: str
    words: str
    url: str
    judgement: Judgement


@dataclass(frozen=True)
class GroupShown:
    """Quantities that are measured in one go."""

    anchor: str
    heading: str
    quantities: list[QuantityShown]


@dataclass(frozen=True)
class LookedAt:
    """What was looked at and tried, in words."""

    label: str
    value: str
    note: str


@dataclass(frozen=True)
class ConditionPage:
    """The page's answer; empty where nothing was ever measured on the door."""

    lead: str
    pressing: list[Pressing]
    cautions: list[Caution]
    cable: CableShown | None
    groups: list[GroupShown]
    looked_at: list[LookedAt]

    @property
    def is_empty(self) -> bool:
        """Whether nothing was measured or looked at."""
        return not self.groups and not self.looked_at


def condition_page(place: Place, basis: Basis, *, now: datetime) -> ConditionPage:
    """The door's condition as of now; queries some 25 times, however much was measured."""
    followed = follow_door(place.door, basis.run, now=now)
    rows = fetch_measurements(followed.fleet.doors)
    at_cycles = measured_at_cycles(rows, followed)
    sources = _sources(rows)
    shown = {
        code: quantity_shown(rows, code, at_cycles, sources.get(_latest(rows, code), ""))
        for code in QUANTITY_CODES
        if len(rows.of(code)) and not QUANTITIES[code].grades
    }
    work = fetch_cable_work(followed.fleet)
    by_voltage = shown["motor_end"].judgement if "motor_end" in shown else None
    assessed = assess_door_cable(pair_measurements(rows, at_cycles, work), work)
    cable = cable_shown(assessed, by_voltage)
    looked = [code for code in QUANTITY_CODES if len(rows.of(code)) and QUANTITIES[code].grades]
    pressing = _pressing(rows, cable, shown, looked)
    return ConditionPage(
        lead=_lead(rows, cable, [*shown, *looked]),
        pressing=pressing,
        cautions=_cautions(rows, [*shown, *looked]),
        cable=cable,
        groups=_groups(shown),
        looked_at=[_looked_at(rows, code) for code in looked],
    )


def measured_at_cycles(rows: MeasurementRows, followed: FollowedDoor) -> Floats:
    """Lifetime cycles of each measurement, (n,): as noted, else between readings of the counter.

    After the last reading they are carried on at the door's rate, as everywhere.
    """
    if followed.is_empty or len(rows) == 0:
        return rows.at_cycles
    usage = followed.usage.usage
    between = cycles_at(followed.usage.series, rows.door, rows.day).cycles
    since = np.maximum(rows.day - usage.last_day[rows.door], 0.0)
    # Without a last point there are no cycles to carry on, and nan stays nan.
    carried = between + np.where(since > 0, since * usage.cycles_per_day[rows.door], 0.0)
    return np.where(np.isnan(rows.at_cycles), carried, rows.at_cycles)


def _latest(rows: MeasurementRows, code: str) -> int:
    return int(rows.ids[rows.of(code)[-1]])


def _sources(rows: MeasurementRows) -> dict[int, str]:
    """Where the limits of each latest value are from, by measurement; queries once."""
    latest = [_latest(rows, code) for code in QUANTITY_CODES if len(rows.of(code))]
    found = Measurement.objects.filter(pk__in=latest).order_by()
    kept = found.values_list("pk", "limit_source")
    return {pk: as_read(source) for pk, source in kept}


def _groups(shown: dict[str, QuantityShown]) -> list[GroupShown]:
    groups = []
    for group in Group:
        inside = [each for code, each in shown.items() if QUANTITIES[code].group == group]
        if inside:
            groups.append(GroupShown(group.value, str(GROUP_NAMES[group]), inside))
    return groups


def _looked_at(rows: MeasurementRows, code: str) -> LookedAt:
    row = int(rows.of(code)[-1])
    return LookedAt(
        label=str(QUANTITIES[code].name),
        value=amount(float(rows.value[row]), code),
        note=day(day_of(rows.day[row])),
    )


def _standing(rows: MeasurementRows, code: str) -> Judgement:
    return judgement_of(rows, int(rows.of(code)[-1]))


def _pressing(
    rows: MeasurementRows,
    cable: CableShown | None,
    shown: dict[str, QuantityShown],
    looked: list[str],
) -> list[Pressing]:
    """What is near or past its limit, the worst first."""
    found = [
        Pressing(each.name, each.sentence, "#" + each.anchor, each.judgement)
        for each in shown.values()
    ]
    if cable and cable.standing:
        name, standing = _("Resistance of the coil cable"), cable.standing
        found.append(Pressing(name, standing.sentence, "#cable", standing.judgement))
    for code in looked:
        seen = _looked_at(rows, code)
        words = f"{seen.value}, {seen.note}"
        found.append(Pressing(seen.label, words, "#looked-at", _standing(rows, code)))
    pressing = [each for each in found if each.judgement in (Judgement.PAST, Judgement.NEAR)]
    return sorted(pressing, key=lambda each: _ORDER.index(each.judgement))


def _lead(rows: MeasurementRows, cable: CableShown | None, codes: list[str]) -> str:
    if not codes:
        return _("Nothing has been measured on this door yet.")
    counted = Counter(_standing(rows, code) for code in codes)
    if cable and cable.standing:
        counted[cable.standing.judgement] += 1
    last = day(day_of(float(rows.day.max())))
    total = sum(counted.values())
    words = ngettext(
        "Of %(total)s quantity %(past)s past the limit, %(near)s near it, %(holds)s holding",
        "Of %(total)s quantities %(past)s past the limit, %(near)s near it, %(holds)s holding",
        total,
    ) % {
        "total": number(total),
        "past": number(counted[Judgement.PAST]),
        "near": number(counted[Judgement.NEAR]),
        "holds": number(counted[Judgement.HOLDS]),
    }
    if counted[Judgement.NO_LIMIT]:
        words += _(", %(n)s with nothing to compare with") % {
            "n": number(counted[Judgement.NO_LIMIT])
        }
    return _("%(words)s; last measured %(day)s.") % {"words": words, "day": last}


def _cautions(rows: MeasurementRows, codes: list[str]) -> list[Caution]:
    """What to heed before anyone goes to what is past its limit; queries once."""
    past = [code for code in codes if _standing(rows, code) == Judgement.PAST]
    return cautions_in_order(
        dict.fromkeys(code for quantity in past for code in QUANTITIES[quantity].cautions)
    )
