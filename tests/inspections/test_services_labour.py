"""Minutes of a visit, prices of an hour and outside invoices: kept, put right, never erased."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import pytest

from fleetdoors.models import DoorUnit
from inspections.models import LabourRate, OutsideInvoice, VisitMinutes
from inspections.services.labour import LabourRefusedError, minutes_open, note_minutes, set_rate
from inspections.services.outside_invoices import (
    Invoiced,
    InvoiceRefusedError,
    enter_invoice,
    reverse_invoice,
)
from tests.factories import NOW, make_depot, make_door, make_truck, make_user
from tests.truck_factories import make_open_visit, make_visit

pytestmark = pytest.mark.django_db
TODAY = NOW.date()


def test_a_visit_s_span_is_proposed_unless_it_was_left_open() -> None:
    visit = make_open_visit()
    assert minutes_open(visit, now=NOW + timedelta(minutes=44, seconds=40)) == 45
    assert minutes_open(visit, now=NOW) is None
    assert minutes_open(visit, now=NOW + timedelta(hours=13)) is None
    visit.closed_at = NOW + timedelta(minutes=30)
    assert minutes_open(visit, now=NOW + timedelta(days=3)) == 30
    assert minutes_open(make_visit(), now=NOW) is None


def test_minutes_are_put_right_with_a_reason_and_the_first_word_stays() -> None:
    visit, kim = make_open_visit(), make_user()
    first = note_minutes(visit=visit, minutes=40, entered_at=NOW, entered_by=kim)
    assert note_minutes(visit=visit, minutes=40, entered_at=NOW, entered_by=kim) == first
    with pytest.raises(LabourRefusedError) as refused:
        note_minutes(visit=visit, minutes=80, entered_at=NOW, entered_by=kim)
    assert refused.value.field == "reason"
    assert VisitMinutes.objects.get() == first
    second = note_minutes(
        visit=visit, minutes=80, reason="two of us", entered_at=NOW, entered_by=kim
    )
    first.refresh_from_db()
    assert (second.corrects, first.superseded_at, second.reason) == (first, NOW, "two of us")
    assert [each.minutes for each in VisitMinutes.objects.in_force()] == [80]


@pytest.mark.parametrize("minutes", [0, 2_881])
def test_minutes_out_of_reason_are_refused(minutes: int) -> None:
    with pytest.raises(LabourRefusedError, match="1 to 2880 minutes"):
        note_minutes(
            visit=make_open_visit(), minutes=minutes, entered_at=NOW, entered_by=make_user()
        )
    with pytest.raises(LabourRefusedError, match="was begun"):
        note_minutes(visit=make_visit(), minutes=10, entered_at=NOW, entered_by=make_user())


def rate(**facts: Any) -> LabourRate:
    usual = {"from_on": TODAY, "per_hour": Decimal("95.50"), "currency": "usd",
             "entered_at": NOW, "entered_by": make_user()}  # fmt: skip
    return set_rate(**(usual | facts))


def test_a_price_holds_from_its_day_and_is_put_right_with_a_reason() -> None:
    depot = make_depot()
    first = rate(depot=depot)
    assert (first.currency, first.per_hour) == ("USD", Decimal("95.50"))
    rate(depot=depot, from_on=TODAY + timedelta(days=30), per_hour=Decimal(99))
    assert rate(depot=depot) == first
    with pytest.raises(LabourRefusedError, match="reason is empty"):
        rate(depot=depot, per_hour=Decimal(90))
    second = rate(depot=depot, per_hour=Decimal(90), reason="typed wrongly")
    assert second.corrects == first
    assert [each.per_hour for each in LabourRate.objects.by_depot()] == [Decimal(99), Decimal(90)]


@pytest.mark.parametrize("facts", [{"currency": "dollars"}, {"per_hour": Decimal(-1)}])
def test_a_price_that_is_none_is_refused(facts: dict[str, Any]) -> None:
    with pytest.raises(LabourRefusedError):
        rate(depot=make_depot(), **facts)
    assert not LabourRate.objects.exists()


def invoice(door: DoorUnit, **facts: Any) -> OutsideInvoice:
    said = {"supplier": "Yard  repairs", "number": "R-77", "invoiced_on": TODAY,
            "amount": Decimal("410.25"), "currency": "usd", "what_for": "new panel"}  # fmt: skip
    return enter_invoice(
        said=Invoiced(door=door, **(said | facts)),
        today=TODAY,
        entered_at=NOW,
        entered_by=make_user(),
    )


def test_an_invoice_names_the_truck_that_carried_the_door_that_day() -> None:
    door = make_door(truck=make_truck(fleet_number="T-1"))
    kept = invoice(door)
    assert kept.truck is not None
    assert (kept.truck.fleet_number, kept.supplier, kept.currency) == (
        "T-1", "Yard repairs", "USD",
    )  # fmt: skip
    stay = door.mountings.get()
    stay.removed_on = TODAY - timedelta(days=10)
    stay.save()
    after = invoice(door, number="R-78")
    assert after.truck is None
    before = invoice(door, number="R-79", invoiced_on=TODAY - timedelta(days=20))
    assert before.truck == kept.truck


@pytest.mark.parametrize(
    ("facts", "field"),
    [
        ({"supplier": " "}, "supplier"),
        ({"number": ""}, "number"),
        ({"what_for": ""}, "what_for"),
        ({"amount": Decimal(0)}, "amount"),
        ({"currency": "$"}, "currency"),
        ({"invoiced_on": TODAY + timedelta(days=1)}, "invoiced_on"),
    ],
)
def test_an_invoice_that_lacks_something_is_refused(facts: dict[str, Any], field: str) -> None:
    with pytest.raises(InvoiceRefusedError) as refused:
        invoice(make_door(), **facts)
    assert refused.value.field == field
    assert not OutsideInvoice.objects.exists()


def test_an_invoice_is_entered_once_and_again_after_it_was_taken_back() -> None:
    door, kim = make_door(), make_user()
    first = invoice(door)
    with pytest.raises(InvoiceRefusedError, match="on record already"):
        invoice(door, supplier="YARD repairs")
    reversal = reverse_invoice(invoice=first, reason="wrong truck", entered_at=NOW, entered_by=kim)
    assert (reversal.amount, reversal.corrects, reversal.reason) == (
        Decimal("-410.25"), first, "wrong truck",
    )  # fmt: skip
    assert sum(OutsideInvoice.objects.values_list("amount", flat=True)) == 0
    again = invoice(door, amount=Decimal(400))
    assert [each.pk for each in OutsideInvoice.objects.entered()] == [again.pk, first.pk]


def test_nothing_is_taken_back_twice_or_without_a_reason() -> None:
    first, kim = invoice(make_door()), make_user()
    facts: dict[str, Any] = {"entered_at": NOW, "entered_by": kim}
    with pytest.raises(InvoiceRefusedError, match="says why"):
        reverse_invoice(invoice=first, reason="", **facts)
    reversal = reverse_invoice(invoice=first, reason="wrong", **facts)
    for row in (first, reversal):
        with pytest.raises(InvoiceRefusedError):
            reverse_invoice(invoice=row, reason="again", **facts)
    assert OutsideInvoice.objects.count() == 2


def test_an_invoice_of_before_the_record_is_of_the_truck_that_carries_the_door_now() -> None:
    kept = invoice(make_door(), invoiced_on=date(2020, 1, 1))
    assert kept.truck is not None
