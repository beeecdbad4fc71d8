"""The tables of pieces that moved for no count, delivery or part used: those have their own rows.

The ledger numbers movements and keeps the balance; it books these together with the others, in the
order in which all of them were entered.
"""

from dataclasses import replace

from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from inspections.models import MovementKind, PartReservation, StockMovement, StockTransfer
from inspections.services.fleet_folder.columns import Column, Rule, in_order
from inspections.services.fleet_folder.common_columns import DEPOT, DOOR, ENTERED_BY, WHOLE
from inspections.services.fleet_folder.linked_columns import (
    WHEN_ENTERED,
    YES_NO,
    code,
    depot_of,
    link,
    linked,
    moment,
    person,
    text,
)
from inspections.services.fleet_folder.order_tables import MOST_PIECES, THE_PART

KINDS = tuple(
    kind.value for kind in MovementKind if kind not in (MovementKind.COUNT, MovementKind.RECEIPT)
)
ON_THE_ROAD = (MovementKind.SENT.value, MovementKind.ARRIVED.value)
SAYS_WHY = (MovementKind.WRITE_OFF.value, MovementKind.CORRECTION.value)
PIECES = Column("quantity", WHOLE, "quantity", required=True, least=1, most=MOST_PIECES)

TRANSFERS = linked(
    "stock_transfers",
    StockTransfer,
    (
        depot_of("from_place"),
        THE_PART,
        link("from_place", "stock_places", required=True),
        link("to_place", "stock_places", required=True),
        PIECES,
        moment("sent_at", required=True),
        person("sent_by"),
        text("note"),
        Column("arrived", WHOLE, "arrived", most=MOST_PIECES),
        moment("ended_at"),
        person("ended_by"),
        text("shortfall_reason"),
    ),
    ("part", "from_place", "to_place", "quantity", "sent_at"),
    local_to="depot",
    rules=(
        Rule(
            "to_place",
            _("pieces are sent to another place than they come from"),
            lambda row: row["from_place"] != row["to_place"],
        ),
        Rule(
            "arrived",
            _("what has arrived says how many and when, and nothing else does"),
            lambda row: (row["arrived"] is None) == (row["ended_at"] is None),
        ),
        Rule(
            "arrived",
            _("at most what was sent arrives"),
            lambda row: row["arrived"] is None or row["arrived"] <= row["quantity"],
        ),
        Rule(
            "shortfall_reason",
            _("the reason is missing"),
            lambda row: (
                row["arrived"] in (None, row["quantity"]) or row["shortfall_reason"] is not None
            ),
        ),
        in_order("sent_at", "ended_at"),
    ),
)
MOVEMENTS = replace(
    linked(
        "stock_movements",
        StockMovement,
        (
            depot_of("place"),
            link("place", "stock_places", required=True),
            THE_PART,
            code("kind", KINDS, required=True),
            replace(PIECES, least=-MOST_PIECES),
            link("lot", "stock_lots"),
            moment("moved_at", required=True),
            text("reason"),
            replace(DOOR, required=False),
            link("transfer", "stock_transfers"),
            link("reverses", "stock_movements"),
            WHEN_ENTERED,
            ENTERED_BY,
        ),
        ("place", "part", "kind", "quantity", "lot", "moved_at", "entered_at", "door"),
        local_to="depot",
        rules=(
            Rule("quantity", _("nothing moves with 0 pieces"), lambda row: row["quantity"] != 0),
            Rule(
                "transfer",
                _("what was sent or arrived names its transfer"),
                lambda row: row["kind"] not in ON_THE_ROAD or row["transfer"] is not None,
            ),
            Rule(
                "reason",
                _("the reason is missing"),
                lambda row: row["kind"] not in SAYS_WHY or row["reason"] is not None,
            ),
        ),
    ),
    only=Q(part_used__isnull=True, receipt__isnull=True, stock_count__isnull=True),
    is_booked=True,
    order=("entered_at", "place", "part__part_number", "sequence"),
)
RESERVATIONS = linked(
    "reservations",
    PartReservation,
    (
        DEPOT,
        THE_PART,
        PIECES,
        link("visit", "visits"),
        link("trace", "fault_traces"),
        moment("reserved_at", required=True),
        person("reserved_by"),
        moment("ended_at"),
        Column("was_used", YES_NO, "was_used", default=False),
        text("reason"),
    ),
    ("depot", "part", "visit", "trace", "reserved_at"),
    local_to="depot",
    rules=(
        Rule(
            "visit",
            _("pieces are kept for a visit or a search for a fault"),
            lambda row: row["visit"] is not None or row["trace"] is not None,
        ),
        Rule(
            "reason",
            _("the reason is missing"),
            lambda row: row["ended_at"] is None or row["was_used"] or row["reason"] is not None,
        ),
        in_order("reserved_at", "ended_at"),
    ),
)
MOVEMENT_TABLES = (TRANSFERS, MOVEMENTS, RESERVATIONS)
