"""The tables of what was ordered and what came: orders, lines, steps, costs and deliveries.

What a delivery moved is not in the folder: the import books it anew from the delivery.
"""

from dataclasses import replace

from django.utils.translation import gettext_lazy as _

from inspections.models import (
    OrderCharge,
    OrderLine,
    OrderReceipt,
    OrderState,
    OrderStep,
    PlaceKind,
    PurchaseOrder,
    StockLot,
    StockPlace,
)
from inspections.models.order_receipt import ChargeKind
from inspections.models.order_step import OrderStepKind
from inspections.models.supplier import CURRENCY
from inspections.services.fleet_folder.columns import Column, Kind, Rule, in_order
from inspections.services.fleet_folder.common_columns import (
    DATE,
    DEPOT,
    ENTERED_BY,
    NUMBER,
    PART,
    TEXT,
    WHOLE,
)
from inspections.services.fleet_folder.linked_columns import (
    WHEN_ENTERED,
    code,
    depot_of,
    link,
    linked,
    moment,
    person,
    text,
)
from inspections.services.fleet_folder.supplier_tables import MOST_PRICE, SUPPLIER

MOST_PIECES = 1_000_000_000
MOST_MONEY = 9_999_999
THE_PART = replace(PART, required=True)
NEVER_PLACED = (OrderState.DRAFT.value, OrderState.CALLED_OFF.value)
ENDED = (OrderState.ALL_HERE.value, OrderState.CALLED_OFF.value)


def says_why(name: str, why: str) -> Rule:
    """A rule that what is told in one column has its reason in another."""
    return Rule(why, _("the reason is missing"), lambda row: not row[name] or row[why] is not None)


STOCK_PLACES = linked(
    "stock_places",
    StockPlace,
    (
        DEPOT,
        code("kind", tuple(PlaceKind.values), required=True),
        text("name", 80),
        person("keeper"),
    ),
    ("depot", "kind", "name"),
    local_to="depot",
    rules=(
        Rule(
            "name",
            _("a van has a name; a shelf and the corner for what is set aside have none"),
            lambda row: (row["kind"] == PlaceKind.VAN.value) == (row["name"] is not None),
        ),
    ),
)
STOCK_LOTS = linked(
    "stock_lots",
    StockLot,
    (
        THE_PART,
        text("number", 80, required=True),
        text("revision", 40),
        Column("made_on", DATE, "made_on"),
        Column("use_by_on", DATE, "use_by_on"),
    ),
    ("part", "number"),
    local_to="",
    rules=(in_order("made_on", "use_by_on"),),
)
PURCHASE_ORDERS = linked(
    "orders",
    PurchaseOrder,
    (
        Column("order", TEXT, "number", required=True, max_length=40),
        replace(SUPPLIER, required=True),
        DEPOT,
        Column("currency", TEXT, "currency", required=True, max_length=3, validator=CURRENCY),
        code("state", tuple(OrderState.values), required=True),
        text("supplier_reference", 80),
        text("note", 500),
        WHEN_ENTERED,
        ENTERED_BY,
        moment("placed_at"),
        person("placed_by"),
        moment("ended_at"),
        text("called_off_reason"),
    ),
    ("order", "supplier", "depot", "entered_at"),
    local_to="depot",
    only_once="order",
    rules=(
        Rule(
            "placed_at",
            _("an order that was placed needs its moment"),
            lambda row: row["state"] in NEVER_PLACED or row["placed_at"] is not None,
        ),
        Rule(
            "ended_at",
            _("an order that is over needs its moment, and no other has one"),
            lambda row: (row["state"] in ENDED) == (row["ended_at"] is not None),
        ),
        Rule(
            "called_off_reason",
            _("the reason is missing"),
            lambda row: (
                row["state"] != OrderState.CALLED_OFF.value or row["called_off_reason"] is not None
            ),
        ),
    ),
)
ORDER_LINES = linked(
    "order_lines",
    OrderLine,
    (
        link("order", "orders", required=True),
        THE_PART,
        text("supplier_part_number", 80),
        Column("quantity", WHOLE, "quantity", required=True, least=1, most=MOST_PIECES),
        Column("unit_price", Kind.PRICE, "unit_price", most=MOST_PRICE),
        Column("quoted_lead_days", NUMBER, "quoted_lead_days", most=10_000),
        Column("expected_on", DATE, "expected_on"),
        Column("received", WHOLE, "received", most=MOST_PIECES, default=0),
        Column("called_off", WHOLE, "called_off", most=MOST_PIECES, default=0),
        text("called_off_reason"),
        text("why", 500),
    ),
    ("order", "part"),
    local_to="",
    rules=(
        Rule(
            "received",
            _("what came and what was called off must not exceed what was ordered"),
            lambda row: (
                row["quantity"] is None or row["received"] + row["called_off"] <= row["quantity"]
            ),
        ),
        says_why("called_off", "called_off_reason"),
    ),
)
ORDER_STEPS = linked(
    "order_steps",
    OrderStep,
    (
        depot_of("order"),
        link("order", "orders", required=True),
        link("line", "order_lines"),
        code("kind", tuple(OrderStepKind.values), required=True),
        Column("day", DATE, "day"),
        Column("pieces", WHOLE, "pieces", most=MOST_PIECES, default=0),
        text("note"),
        WHEN_ENTERED,
        ENTERED_BY,
    ),
    ("order", "line", "kind", "entered_at", "day", "pieces"),
    local_to="depot",
    rules=(
        Rule(
            "line",
            _("what was called off names its line, its pieces and the reason in the note"),
            lambda row: (
                row["kind"] != OrderStepKind.CALLED_OFF.value
                or (row["line"] is not None and row["pieces"] > 0 and row["note"] is not None)
            ),
        ),
        Rule(
            "day",
            _("another day names its line and the day"),
            lambda row: (
                row["kind"] != OrderStepKind.NEW_DAY.value
                or (row["line"] is not None and row["day"] is not None)
            ),
        ),
    ),
)
ORDER_CHARGES = linked(
    "order_charges",
    OrderCharge,
    (
        depot_of("order"),
        link("order", "orders", required=True),
        code("kind", tuple(ChargeKind.values), required=True),
        Column("amount", Kind.MONEY, "amount", required=True, least=-MOST_MONEY, most=MOST_MONEY),
        text("note"),
        WHEN_ENTERED,
        ENTERED_BY,
    ),
    ("order", "kind", "amount", "entered_at"),
    local_to="depot",
    rules=(
        Rule(
            "amount",
            _("an amount is not 0, and one below 0 says why in the note"),
            lambda row: (
                row["amount"] is None
                or row["amount"] > 0
                or (row["amount"] < 0 and row["note"] is not None)
            ),
        ),
    ),
)
RECEIPTS = linked(
    "deliveries",
    OrderReceipt,
    (
        depot_of("place"),
        link("place", "stock_places", required=True),
        link("line", "order_lines"),
        THE_PART,
        SUPPLIER,
        moment("received_at", required=True),
        Column("quantity", WHOLE, "quantity", required=True, least=1, most=MOST_PIECES),
        Column("damaged", WHOLE, "damaged", most=MOST_PIECES, default=0),
        link("lot", "stock_lots"),
        text("delivery_note", 80),
        text("note"),
        WHEN_ENTERED,
        ENTERED_BY,
        moment("taken_back_at"),
        text("taken_back_reason"),
    ),
    ("place", "line", "part", "received_at", "quantity", "entered_at"),
    local_to="depot",
    rules=(
        Rule(
            "damaged",
            _("at most what came is damaged"),
            lambda row: row["quantity"] is None or row["damaged"] <= row["quantity"],
        ),
        says_why("taken_back_at", "taken_back_reason"),
    ),
)

ORDER_TABLES = (
    STOCK_PLACES,
    STOCK_LOTS,
    PURCHASE_ORDERS,
    ORDER_LINES,
    ORDER_STEPS,
    ORDER_CHARGES,
    RECEIPTS,
)
