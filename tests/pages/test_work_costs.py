"""What work costs: invoices entered, taken back and shown; prices of an hour; minutes of visits."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from fleetdoors.models import Role
from inspections.models import LabourRate, OutsideInvoice, Tick, Visit, VisitMinutes, VisitState
from tests.cost_factories import make_invoice, make_minutes, make_rate
from tests.factories import NOW, make_depot, make_door, make_truck
from tests.pages.conftest import SignIn
from tests.truck_factories import make_final_check, make_open_visit, make_tick, make_visit

pytestmark = [
    pytest.mark.django_db,
    pytest.mark.usefixtures("stopped_clock", "recompute_requests"),
]
PAGE = "/work-costs/"


def text(client: Client, address: str = PAGE, **asked: str) -> str:
    answer = client.get(address, asked)
    assert answer.status_code == 200
    return answer.content.decode()


def typed(**facts: str) -> dict[str, str]:
    usual = {
        "supplier": "Yard repairs", "number": "R-1", "invoiced_on": "2026-11-20",
        "amount": "410.25", "currency": "usd", "where": "T-1", "what_for": "new panel",
    }  # fmt: skip
    return usual | facts


@pytest.mark.parametrize(
    ("role", "statuses"),
    [
        (Role.PLANNER, (200, 200, 200)),
        (Role.BUYER, (200, 200, 403)),
        (Role.TECHNICIAN, (403, 403, 403)),
    ],
)
def test_the_desk_sees_costs_and_the_planner_sets_prices(
    sign_in: SignIn, role: Role, statuses: tuple[int, ...]
) -> None:
    client = sign_in(role)
    pages = (PAGE, reverse("invoice-new"), reverse("rate-new"))
    assert tuple(client.get(page).status_code for page in pages) == statuses


def test_without_anything_the_page_says_what_to_do_first(sign_in: SignIn) -> None:
    page = text(sign_in())
    assert "No invoice yet" in page
    assert "There is no depot in sight yet." in page
    make_depot(code="NORTH")
    assert "No price on record:" in text(sign_in())


def test_an_invoice_is_entered_by_the_number_of_the_truck_and_shown(sign_in: SignIn) -> None:
    make_door(serial="D-1", truck=make_truck(fleet_number="T-1"))
    client = sign_in()
    assert client.post(reverse("invoice-new"), typed()).status_code == 302
    kept = OutsideInvoice.objects.get()
    assert (kept.door.serial, kept.amount, kept.currency) == ("D-1", Decimal("410.25"), "USD")
    page = text(client)
    for word in ("Yard repairs", "R-1", "410.25 USD", "new panel"):
        assert word in page
    record = text(client, "/trucks/T-1/record/")
    assert "Done outside: new panel" in record
    assert "invoice R-1, 410.25 USD" in record
    assert "No invoice in sight" in text(client, q="nobody")
    assert "R-1" in text(client, q="yard")


def test_what_is_wrong_stands_beside_its_field_and_what_was_typed_stays(sign_in: SignIn) -> None:
    make_door(serial="D-1", truck=make_truck(fleet_number="T-1"))
    client = sign_in()
    answer = client.post(reverse("invoice-new"), typed(where="T-9", currency="$"))
    assert answer.status_code == 200
    page = answer.content.decode()
    assert "is called “T-9”" in page
    assert 'value="Yard repairs"' in page
    later = client.post(reverse("invoice-new"), typed(invoiced_on="2026-12-24"))
    assert "not of a day to come" in later.content.decode()
    assert client.post(reverse("invoice-new"), typed()).status_code == 302
    again = client.post(reverse("invoice-new"), typed())
    assert "is on record already" in again.content.decode()
    assert OutsideInvoice.objects.count() == 1


def test_an_invoice_is_taken_back_and_entered_anew(sign_in: SignIn) -> None:
    door = make_door(serial="D-1", truck=make_truck(fleet_number="T-1"))
    invoice = make_invoice(door=door)
    client = sign_in(Role.BUYER)
    back = reverse("invoice-back", args=[invoice.pk])
    assert "400.00 USD" in text(client, back)
    assert client.post(back, {"reason": ""}).status_code == 200
    answer = client.post(back, {"reason": "other amount", "is_entered_anew": "on"})
    assert answer.headers["Location"] == f"{reverse('invoice-new')}?like={invoice.pk}"
    anew = text(client, answer.headers["Location"])
    assert 'value="R-77"' in anew
    assert 'value="D-1"' in anew
    assert "Taken back" in text(client)
    assert "other amount" in text(client)
    assert "other amount" in text(sign_in(), "/trucks/T-1/record/")
    assert [each.amount for each in OutsideInvoice.objects.order_by("pk")] == [400, -400]


def test_other_depots_invoices_and_prices_are_not_there(sign_in: SignIn) -> None:
    own, foreign = make_depot(code="OWN"), make_depot(code="FOREIGN")
    invoice = make_invoice(door=make_door(serial="FD", depot=foreign), supplier="Faraway")
    make_rate(depot=foreign)
    client = sign_in(depots=[own])
    page = text(client)
    assert "Faraway" not in page
    assert "FOREIGN" not in page
    assert client.get(reverse("invoice-back", args=[invoice.pk])).status_code == 404
    assert client.get(reverse("invoice-new"), {"like": invoice.pk}).status_code == 404
    refused = client.post(reverse("invoice-new"), typed(where="FD"))
    assert "is called “FD”" in refused.content.decode()
    rate = {"depot": foreign.pk, "per_hour": "90", "currency": "USD", "from_on": "2026-11-01"}
    assert client.post(reverse("rate-new"), rate).status_code == 200
    assert LabourRate.objects.count() == 1


def test_a_price_is_set_and_put_right_with_a_reason(sign_in: SignIn) -> None:
    depot = make_depot(code="NORTH")
    client, page = sign_in(), reverse("rate-new")
    said = {"depot": depot.pk, "per_hour": "90", "currency": "usd", "from_on": "2026-11-01"}
    assert client.post(page, said).status_code == 302
    assert "90.00 USD" in text(client)
    refused = client.post(page, said | {"per_hour": "95"})
    assert "the reason is empty" in refused.content.decode()
    assert client.post(page, said | {"per_hour": "95", "reason": "typo"}).status_code == 302
    assert "95.00 USD" in text(client)
    assert "90.00 USD" not in text(client)


def test_the_number_of_queries_stays_when_rows_triple(sign_in: SignIn) -> None:
    client, counts = sign_in(), []
    for times in (2, 6):
        for number in range(times):
            make_invoice(number=f"R{times}-{number}")
            make_rate()
        with CaptureQueriesContext(connection) as queries:
            text(client)
        counts.append(len(queries))
    assert counts[0] == counts[1]


def make_ready(visit: Visit) -> None:
    """Every tick set and the final check passed: it can be closed."""
    for tick in Tick.values:
        make_tick(visit=visit, tick=tick)
    make_final_check(visit=visit)


def test_minutes_are_asked_at_the_end_from_the_beginning_on(sign_in: SignIn) -> None:
    client = sign_in(Role.TECHNICIAN)
    visit = make_open_visit()
    type(visit).objects.filter(pk=visit.pk).update(started_at=NOW - timedelta(minutes=50))
    close = reverse("visit-close", args=[visit.pk])
    assert 'name="minutes" value="50"' in text(client, close)
    make_ready(visit)
    answer = client.post(close, {"signed_by": "Kim", "minutes": "65"})
    assert answer.status_code == 302
    visit.refresh_from_db()
    assert visit.state == VisitState.CLOSED
    assert VisitMinutes.objects.get().minutes == 65
    assert "65 minutes of work." in text(client, reverse("visit-detail", args=[visit.pk]))


def test_a_visit_closes_without_minutes_and_they_can_be_said_later(sign_in: SignIn) -> None:
    client = sign_in(Role.TECHNICIAN)
    visit = make_open_visit()
    make_ready(visit)
    assert client.post(
        reverse("visit-close", args=[visit.pk]), {"signed_by": "Kim", "minutes": ""}
    ).status_code == 302  # fmt: skip
    assert not VisitMinutes.objects.exists()
    assert "is not on record" in text(client, reverse("visit-detail", args=[visit.pk]))
    page = reverse("visit-minutes", args=[visit.pk])
    assert client.post(page, {"minutes": "30"}).status_code == 302
    refused = client.post(page, {"minutes": "35"})
    assert "the reason is empty" in refused.content.decode()
    assert client.post(page, {"minutes": "35", "reason": "slip"}).status_code == 302
    assert [each.minutes for each in VisitMinutes.objects.in_force()] == [35]


def test_a_planned_visit_took_no_minutes(sign_in: SignIn) -> None:
    visit = make_visit()
    answer = sign_in().post(reverse("visit-minutes", args=[visit.pk]), {"minutes": "30"})
    assert "was begun" in answer.content.decode()


def test_corrections_of_minutes_are_on_the_listing_of_changes(sign_in: SignIn) -> None:
    visit: Any = make_open_visit()
    first = make_minutes(visit=visit, minutes=40, superseded_at=NOW)
    make_minutes(visit=visit, minutes=50, corrects=first, reason="two of us")
    page = text(sign_in(Role.ADMINISTRATOR), reverse("record-changes"))
    assert "two of us" in page
