"""The sheet of a visit on paper: what to do, what to write in, what was said before, who signs."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.utils.text import capfirst
from django.utils.translation import gettext as _

from fleetdoors.access import SignedInRequest, open_to
from fleetdoors.models import Role
from fleetdoors.templatetags.units import figure, unit_shown
from inspections.limits import Circumstances, Limits, limits_for
from inspections.models import CounterReading, FinalCheck, Measurement, Visit
from inspections.quantities import GROUP_NAMES, QUANTITIES, Group
from inspections.services.inspecting import figures_of
from inspections.views.at_truck import of_door
from inspections.views.code_picture import code_picture
from inspections.views.place import Place
from inspections.views.visit_facts import visit_facts

FREE_LINES = range(3)


@dataclass(frozen=True)
class SheetRow:
    """A quantity as it is written in: where it holds, where it is past, what it read before."""

    name: str
    unit: str
    choices: list[str]
    holds: str
    past: str
    source: str
    when_new: str
    now: str


@dataclass(frozen=True)
class SheetGroup:
    """Quantities that are measured in one go."""

    heading: str
    rows: list[SheetRow]


@open_to(Role.TECHNICIAN, Role.PLANNER)
@of_door(Visit)
def visit_sheet(request: SignedInRequest, visit: Visit, place: Place) -> HttpResponse:
    """The visit for paper, on A4 or Letter."""
    address = request.build_absolute_uri(reverse("visit-detail", args=[visit.pk]))
    last = CounterReading.objects.accepted().filter(door=visit.door).newest_first().first()
    final = visit.final_checks.newest_first().first()
    context = {
        "visit": visit,
        "place": place,
        "picture": code_picture(address),
        "address": address,
        "last_reading": last,
        "groups": _groups(visit),
        "items": _items(final),
        "final": final,
        "free_lines": FREE_LINES,
        "printed_at": timezone.now(),
        **visit_facts(visit),
    }
    return render(request, "inspections/visit_sheet.html", context)


def _groups(visit: Visit) -> list[SheetGroup]:
    """Every quantity under its heading, with what this visit has measured already."""
    found = _circumstances(visit)
    measured = {
        each.quantity: each.value
        for each in Measurement.objects.in_force().filter(visit=visit).order_by("measured_at")
    }
    figures = figures_of(visit.door)
    groups = []
    for group in Group:
        rows = [
            _row(code, limits_for(code, figures, found), found.baselines, measured)
            for code, quantity in QUANTITIES.items()
            if quantity.group == group
        ]
        groups.append(SheetGroup(str(GROUP_NAMES[group]), rows))
    return groups


def _circumstances(visit: Visit) -> Circumstances:
    baselines: dict[str, float] = {}
    for each in Measurement.objects.baselines(visit.door):
        baselines.setdefault(each.quantity, each.value)
    return Circumstances(baselines=baselines)


def _row(
    code: str, limits: Limits, baselines: Mapping[str, float], measured: Mapping[str, float]
) -> SheetRow:
    quantity = QUANTITIES[code]
    grades = dict(quantity.grades)
    value, new = measured.get(code), baselines.get(code)
    if grades:
        now = str(grades.get(value, "")) if value is not None else ""
    else:
        now = figure(value, quantity.unit, 2) if value is not None else ""
    return SheetRow(
        name=str(quantity.name),
        unit=unit_shown(quantity.unit),
        choices=[str(word) for word in grades.values()],
        holds="" if grades else _band(limits.near_low, limits.near_high, quantity.unit),
        past="" if grades else _beyond(limits.limit_low, limits.limit_high, quantity.unit),
        source=limits.source,
        when_new=figure(new, quantity.unit, 1) if new is not None and not grades else "",
        now=now,
    )


def _band(low: float | None, high: float | None, unit: str) -> str:
    facts = {"low": figure(low, unit, 1), "high": figure(high, unit, 1)}
    if low is not None and high is not None:
        return _("%(low)s to %(high)s") % facts
    if low is not None:
        return _("%(low)s or more") % facts
    return _("%(high)s or less") % facts if high is not None else ""


def _beyond(low: float | None, high: float | None, unit: str) -> str:
    facts = {"low": figure(low, unit, 1), "high": figure(high, unit, 1)}
    if low is not None and high is not None:
        return _("below %(low)s, above %(high)s") % facts
    if low is not None:
        return _("below %(low)s") % facts
    return _("above %(high)s") % facts if high is not None else ""


def _items(final: FinalCheck | None) -> list[dict[str, object]]:
    """The items of the final check, with the answer where there is one."""
    names = {field.name: field.verbose_name for field in FinalCheck._meta.fields}
    return [
        {
            "name": capfirst(str(names[item])),
            "answer": (_("yes") if getattr(final, item) else _("no")) if final else "",
        }
        for item in FinalCheck.ITEMS
    ]
