"""Readings, faults and inspections from a phone, read by the forms of their own pages."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django import forms
from django.utils import timezone
from django.utils.translation import gettext as _

from fleetdoors.models import Component, DoorUnit
from fleetdoors.services.counter_exchange import counter_on, digits_of
from fleetdoors.services.whereabouts import present_depot, zone_of
from inspections.forms.defect import HoldForm
from inspections.forms.fault import FaultForm, PartRows
from inspections.forms.inspection import InspectionForm
from inspections.forms.reading import ReadingForm
from inspections.models import InspectionKind
from inspections.quantities import QUANTITIES
from inspections.services.device_kinds.arriving import (
    Arrived,
    Became,
    Difference,
    EntryRefusedError,
)
from inspections.services.faults import record_fault
from inspections.services.fitting import parts_for
from inspections.services.holds import place_hold
from inspections.services.inspecting import doubts_about, record_inspection
from inspections.services.readings import ReadingClashError, log_reading


def take_reading(entry: Arrived) -> Became:
    """A counter reading; the moment is the phone's unless the person typed another."""
    door = entry.door()
    with timezone.override(zone_of(present_depot(door))):
        form = ReadingForm(
            _with_moment(entry, "read_at"),
            now=entry.happened_at,
            digits=_digits(door, entry.happened_at),
        )
        cleaned = _cleaned(form)
    try:
        reading = log_reading(
            door=door,
            read_at=cleaned["read_at"],
            counter_value=cleaned["counter_value"],
            entered_at=entry.received_at,
            entered_by=entry.author,
            read_by=str(entry.author)[:100],
        )
    except ReadingClashError as clash:
        on_record = str(clash.existing.counter_value)
        raise EntryRefusedError(
            str(clash),
            differences=[Difference(_("Counter"), str(cleaned["counter_value"]), on_record)],
        ) from clash
    return {"reading": reading.pk}


def take_fault(entry: Arrived) -> Became:
    """A fault with the parts it took."""
    door = entry.door()
    fields = _with_moment(entry, "found_at")
    with timezone.override(zone_of(present_depot(door))):
        form = FaultForm(fields, components=Component.objects.order_by("name"), initial={})
        rows = PartRows(_with_rows(fields), parts=parts_for(door.door_model))
        _cleaned(form)
        if not rows.is_valid():
            raise EntryRefusedError(errors_of(*rows.forms))
        fault = record_fault(
            door=door,
            facts=form.facts(),
            parts=rows.uses(),
            entered_at=entry.received_at,
            entered_by=entry.author,
        )
    return {"fault": fault.pk}


def take_inspection(entry: Arrived) -> Became:
    """An inspection: every quantity under its own code, those not measured left out."""
    door = entry.door()
    fields = {"inspector": str(entry.author), "kind": InspectionKind.ROUTINE, **entry.fields}
    fields |= {code: entry.text(code).replace(",", ".") for code in QUANTITIES}
    fields.setdefault("begun_at", entry.happened_at.isoformat())
    visit = None
    if entry.visit():
        visit = entry.open_visit(said=_("done"), what=_("Inspection"))
    with timezone.override(zone_of(present_depot(door))):
        form = InspectionForm(fields, initial={})
        cleaned = _cleaned(form)
    doubts = [] if cleaned["is_confirmed"] else doubts_about(door=door, values=form.values())
    if doubts:
        # Asked on the page at once where there is a signal; sent again by a person, it is meant.
        raise EntryRefusedError(" ".join(doubts))
    inspection = record_inspection(
        door=door,
        facts=form.facts(),
        values=form.values(),
        entered_at=entry.received_at,
        entered_by=entry.author,
        visit=visit,
    )
    return {"inspection": inspection.pk}


def take_hold(entry: Arrived) -> Became:
    """The truck is kept, or the power taken off its door, by who stands before it."""
    cleaned = _cleaned(HoldForm(dict(entry.fields)))
    hold = place_hold(
        door=entry.door(),
        because=cleaned["because"],
        detail=cleaned["detail"],
        placed_at=entry.happened_at,
        entered_at=entry.received_at,
        placed_by=entry.author,
    )
    return {"hold": hold.pk}


def _with_moment(entry: Arrived, name: str) -> dict[str, Any]:
    """The fields, with the entry's own moment where the person typed none."""
    return {name: entry.happened_at.isoformat(), **entry.fields}


def _with_rows(fields: dict[str, Any]) -> dict[str, Any]:
    """The fields with a formset's own bookkeeping, which an entry without parts leaves out."""
    return {"parts-TOTAL_FORMS": "0", "parts-INITIAL_FORMS": "0", **fields}


def _digits(door: DoorUnit, moment: datetime) -> int:
    return digits_of(counter_on(door, timezone.localdate(moment)), door)


def _cleaned(form: forms.Form) -> dict[str, Any]:
    if not form.is_valid():
        raise EntryRefusedError(errors_of(form))
    return form.cleaned_data


def errors_of(*checked: forms.Form) -> str:
    """What a form says of its fields, in one line."""
    told = []
    for form in checked:
        for name, errors in form.errors.items():
            label = form.fields[name].label if name in form.fields else ""
            told += [f"{label}: {error}" if label else str(error) for error in errors]
    return " ".join(told)
