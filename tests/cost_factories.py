"""Builders of what work costs: minutes of a visit, prices of an hour, invoices from outside."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal
from typing import Any

from fleetdoors.models import Depot, DoorUnit
from inspections.models import LabourRate, OutsideInvoice, Visit, VisitMinutes
from tests.factories import NOW, make_depot, make_door
from tests.truck_factories import make_visit

# What is entered at the very moment of a run is not known to it.
BEFORE = NOW - timedelta(hours=2)


def make_minutes(*, visit: Visit | None = None, minutes: int = 45, **facts: Any) -> VisitMinutes:
    return VisitMinutes.objects.create(
        visit=visit or make_visit(), minutes=minutes, **({"entered_at": BEFORE} | facts)
    )


def make_rate(
    *,
    depot: Depot | None = None,
    from_on: date = date(2025, 1, 1),
    per_hour: Decimal = Decimal(60),
    currency: str = "USD",
    **facts: Any,
) -> LabourRate:
    return LabourRate.objects.create(
        depot=depot or make_depot(),
        from_on=from_on,
        per_hour=per_hour,
        currency=currency,
        **({"entered_at": BEFORE} | facts),
    )


def make_invoice(
    *,
    door: DoorUnit | None = None,
    number: str = "R-77",
    amount: Decimal = Decimal(400),
    **facts: Any,
) -> OutsideInvoice:
    door = door or make_door()
    stay = door.mountings.filter(removed_on__isnull=True).first()
    usual = {
        "supplier": "Yard repairs",
        "invoiced_on": NOW.date(),
        "currency": "USD",
        "what_for": "new panel",
        "entered_at": BEFORE,
        "truck": stay.truck if stay else None,
    }
    return OutsideInvoice.objects.create(door=door, number=number, amount=amount, **(usual | facts))
