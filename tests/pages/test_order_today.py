"""What to order today: why, from whom, what it costs, and the orders it becomes."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from analytics.models import PartOutlook
from analytics.reports.order_today import short_chances
from analytics.reports.part_classes import classes_of
from fleetdoors.models import Depot, Part, Role
from inspections.models import OrderLine, OrderState, PurchaseOrder
from tests.factories import NOW, component, make_depot, make_part
from tests.pages.conftest import SignIn
from tests.pages.test_parts import make_outlook
from tests.stock_factories import make_price, make_supplier

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("stopped_clock")]
FORBIDDEN = 403


def make_short(*, part: Part, depot: Depot, order: int = 6) -> PartOutlook:
    """A shelf at its level, that calls for an order."""
    return make_outlook(
        part=part, depot=depot, order=order, run_out_on=(NOW + timedelta(days=9)).date()
    )


def page(sign_in: SignIn, role: Role = Role.BUYER, depots: tuple[Depot, ...] = ()) -> str:
    return sign_in(role, depots).get(reverse("order-today")).content.decode()


def test_a_line_says_how_many_from_whom_and_why(sign_in: SignIn) -> None:
    part = make_part(name="Coil cable", component=component("coil_cable"))
    make_price(part=part, unit_price="80", supplier=make_supplier(code="DEAR"))
    make_price(part=part, unit_price="74.50", supplier=make_supplier(code="CHEAP"))
    make_short(part=part, depot=make_depot(code="NORTH"))
    shown = page(sign_in)
    assert "1 part at a depot is at or below its level" in shown
    assert "Supplier CHEAP, 74.50 USD a piece" in shown
    assert "447.00 USD" in shown
    assert "On hand 3, on order 0, kept 0: at or below 4" in shown
    assert "critical" in shown


def test_ticked_lines_become_one_order_for_each_supplier_and_depot(sign_in: SignIn) -> None:
    one, two = make_supplier(code="ONE"), make_supplier(code="TWO")
    north, south = make_depot(code="NORTH"), make_depot(code="SOUTH")
    cable, fuse = make_part(name="Coil cable"), make_part(name="Fuse")
    make_price(part=cable, supplier=one)
    make_price(part=fuse, supplier=two)
    rows = [
        make_short(part=part, depot=depot)
        for part, depot in ((cable, north), (fuse, north), (cable, south))
    ]
    keys = [f"{row.part_id}-{row.depot_id}" for row in rows]
    pieces = {f"pieces-{key}": "6" for key in keys} | {f"pieces-{keys[0]}": "9"}
    client = sign_in(Role.BUYER)
    answer = client.post(reverse("order-today"), {"take": keys, **pieces}, follow=True)
    assert "3 lines are on orders being written" in answer.content.decode()
    orders = PurchaseOrder.objects.order_by("supplier__code", "depot__code")
    assert [(each.supplier.code, each.depot.code, each.state) for each in orders] == [
        ("ONE", "NORTH", OrderState.DRAFT),
        ("ONE", "SOUTH", OrderState.DRAFT),
        ("TWO", "NORTH", OrderState.DRAFT),
    ]
    assert OrderLine.objects.get(order=orders[0]).quantity == 9
    assert "at or below 4" in OrderLine.objects.get(order=orders[0]).why


def test_an_order_being_written_takes_further_lines(sign_in: SignIn) -> None:
    supplier, depot = make_supplier(), make_depot()
    rows = []
    client = sign_in(Role.BUYER)
    for name in ("Coil cable", "Fuse"):
        part = make_part(name=name)
        make_price(part=part, supplier=supplier)
        rows.append(make_short(part=part, depot=depot))
        key = f"{rows[-1].part_id}-{depot.pk}"
        client.post(reverse("order-today"), {"take": [key], f"pieces-{key}": "5"})
    assert PurchaseOrder.objects.count() == 1
    assert OrderLine.objects.count() == 2


def test_what_is_on_an_order_being_written_is_told_and_not_ticked_again(sign_in: SignIn) -> None:
    part, depot = make_part(name="Coil cable"), make_depot()
    make_price(part=part)
    key = f"{make_short(part=part, depot=depot).part_id}-{depot.pk}"
    client = sign_in(Role.BUYER)
    box = f'name="take" value="{key}" checked'
    assert box in client.get(reverse("order-today")).content.decode()
    answer = client.post(reverse("order-today"), {"take": [key], f"pieces-{key}": "5"})
    order = PurchaseOrder.objects.get()
    # The only order is shown at once, to be placed.
    assert answer.url == reverse("order-detail", args=[order.number])
    shown = client.get(reverse("order-today")).content.decode()
    assert f"5 are on order {order.number}, not placed yet" in shown
    assert box not in shown
    # Ticked all the same, the line takes the new figure and is not there twice.
    client.post(reverse("order-today"), {"take": [key], f"pieces-{key}": "8"})
    assert [line.quantity for line in OrderLine.objects.all()] == [8]


def test_what_was_ticked_stays_so_beside_an_error(sign_in: SignIn) -> None:
    depot, keys = make_depot(), []
    for name in ("Coil cable", "Fuse"):
        part = make_part(name=name)
        make_price(part=part)
        keys.append(f"{make_short(part=part, depot=depot).part_id}-{depot.pk}")
    wrong, left = keys
    answer = sign_in(Role.BUYER).post(
        reverse("order-today"), {"take": [wrong], f"pieces-{wrong}": "six", f"pieces-{left}": "6"}
    )
    shown = answer.content.decode()
    assert f'value="{wrong}" checked' in shown
    assert f'value="{left}" checked' not in shown


@pytest.mark.parametrize("typed", ["", "0", "-3", "six", "1e3", "9999999999"])
def test_a_quantity_that_is_none_is_refused_and_nothing_is_written(
    sign_in: SignIn, typed: str
) -> None:
    part = make_part()
    make_price(part=part)
    row = make_short(part=part, depot=make_depot())
    key = f"{part.pk}-{row.depot_id}"
    answer = sign_in(Role.BUYER).post(
        reverse("order-today"), {"take": [key], f"pieces-{key}": typed}
    )
    assert "A quantity is a whole number from 1" in answer.content.decode()
    assert f'value="{typed}"' in answer.content.decode()
    assert not PurchaseOrder.objects.exists()


def test_a_part_that_nobody_sells_is_told(sign_in: SignIn) -> None:
    row = make_short(part=make_part(), depot=make_depot())
    key = f"{row.part_id}-{row.depot_id}"
    client = sign_in(Role.BUYER)
    # The name of the source holds an apostrophe, which the page writes as an entity.
    assert "no supplier&#x27;s price on record" in page(sign_in)
    answer = client.post(reverse("order-today"), {"take": [key], f"pieces-{key}": "5"})
    assert "add a supplier&#x27;s price first" in answer.content.decode()


def test_what_another_depot_has_too_many_of_is_offered_before_buying(sign_in: SignIn) -> None:
    part, north, south = make_part(), make_depot(code="NORTH"), make_depot(code="SOUTH")
    make_price(part=part, unit_price="10")
    make_short(part=part, depot=north, order=6)
    make_outlook(part=part, depot=south, on_hand=11)
    shown = page(sign_in)
    assert "Depot SOUTH has 4 more than it orders up to" in shown
    assert reverse("transfer-new", args=["SOUTH", part.part_number]) in shown
    # The rest is bought: 6 less 4.
    assert "20.00 USD" in shown


def test_what_one_line_takes_is_not_offered_to_the_next(sign_in: SignIn) -> None:
    part, south = make_part(), make_depot(code="SOUTH")
    make_outlook(part=part, depot=south, on_hand=11)
    for code in ("EAST", "NORTH"):
        make_short(part=part, depot=make_depot(code=code), order=3)
    shown = page(sign_in)
    assert shown.count("has 3 more") == 1
    assert shown.count("has 1 more") == 1


def test_a_buyer_of_one_depot_sees_and_orders_for_it_alone(sign_in: SignIn) -> None:
    part, north, south = make_part(), make_depot(code="NORTH"), make_depot(code="SOUTH")
    make_price(part=part)
    make_short(part=part, depot=north)
    foreign = make_short(part=part, depot=south)
    client = sign_in(Role.BUYER, [north])
    shown = client.get(reverse("order-today")).content.decode()
    assert "Depot NORTH" in shown
    assert "Depot SOUTH" not in shown
    key = f"{part.pk}-{foreign.depot_id}"
    client.post(reverse("order-today"), {"take": [key], f"pieces-{key}": "5"})
    assert not PurchaseOrder.objects.exists()


def test_a_planner_reads_and_the_buyer_writes(sign_in: SignIn) -> None:
    part = make_part()
    make_price(part=part)
    make_short(part=part, depot=make_depot())
    client = sign_in(Role.PLANNER)
    assert "Write the orders" not in client.get(reverse("order-today")).content.decode()
    assert client.post(reverse("order-today"), {}).status_code == FORBIDDEN


def test_without_figures_it_is_not_said_that_nothing_is_needed(sign_in: SignIn) -> None:
    said = page(sign_in)
    assert "No need is worked out yet" in said
    assert "every counted shelf" not in said


def test_nothing_ticked_says_so_and_nothing_to_order_too(sign_in: SignIn) -> None:
    part, depot = make_part(), make_depot()
    make_price(part=part)
    outlook = make_short(part=part, depot=depot)
    PartOutlook.objects.filter(pk=outlook.pk).update(suggested_order=0)
    assert "Nothing calls for an order today" in page(sign_in)
    PartOutlook.objects.filter(pk=outlook.pk).update(suggested_order=outlook.suggested_order)
    answer = sign_in(Role.BUYER).post(reverse("order-today"), {})
    assert "tick the lines to order" in answer.content.decode()


def test_the_queries_do_not_grow_with_the_lines(sign_in: SignIn) -> None:
    client = sign_in(Role.BUYER)

    def queries() -> int:
        with CaptureQueriesContext(
            connection,
        ) as caught:
            client.get(reverse("order-today"))
        return len(caught)

    for count in (1, 3):
        for _ in range(count):
            part = make_part()
            make_price(part=part)
            make_short(part=part, depot=make_depot())
        if count == 1:
            few = queries()
    assert queries() == few


def test_the_chance_of_being_short_is_that_of_need_over_the_lead_time() -> None:
    # Poisson by hand: mean 6 in 90 days is 2/3 in 10 days; P(more than 3) = 1 - sum e^-m m^k / k!.
    row = make_outlook(part=make_part(), depot=make_depot(), mean=6.0, on_hand=3)
    row.variance = row.mean
    assert short_chances([row])[0] == pytest.approx(0.0049, abs=2e-4)
    row.on_hand = -1
    assert short_chances([row])[0] == 1.0
    assert len(short_chances([])) == 0


def test_parts_are_lettered_by_yearly_spend() -> None:
    depot = make_depot()
    costs = {"A": Decimal(80), "B": Decimal(15), "C": Decimal(5)}
    rows = [
        make_outlook(part=make_part(name=name, unit_cost=cost), depot=depot)
        for name, cost in costs.items()
    ]
    unknown = make_outlook(part=make_part(name="?"), depot=depot)
    found = classes_of([*rows, unknown])
    assert {row.part.name: found[row.part_id].letter for row in rows} == {
        "A": "A", "B": "B", "C": "C",
    }  # fmt: skip
    assert found[unknown.part_id].letter == ""
