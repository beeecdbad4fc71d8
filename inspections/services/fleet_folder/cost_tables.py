"""The tables of what work costs: an hour's price by depot, and invoices from outside."""

from dataclasses import replace

from inspections.models import LabourRate, OutsideInvoice
from inspections.services.fleet_folder.columns import Column, Kind
from inspections.services.fleet_folder.common_columns import (
    CORRECTED,
    DATE,
    DEPOT,
    DOOR,
    ENTERED_BY,
    TEXT,
    WHY_CORRECTED,
    happened,
)
from inspections.services.fleet_folder.linked_columns import (
    NO_TRUCK,
    WHEN_ENTERED,
    YES_NO,
    link,
    linked,
    text,
)

MOST_MONEY = 9_999_999
CURRENCY = Column("currency", TEXT, "currency", required=True, max_length=3)

LABOUR_RATES = linked(
    "labour_rates",
    LabourRate,
    (
        DEPOT,
        Column("from_on", DATE, "from_on", required=True),
        Column("per_hour", Kind.MONEY, "per_hour", required=True, most=MOST_MONEY),
        CURRENCY,
        WHEN_ENTERED,
        ENTERED_BY,
        link("corrects", "labour_rates"),
        CORRECTED,
        WHY_CORRECTED,
    ),
    ("depot", "from_on", "entered_at", "per_hour"),
    local_to="depot",
)
OUTSIDE_INVOICES = linked(
    "outside_invoices",
    OutsideInvoice,
    (
        DOOR,
        NO_TRUCK,
        text("supplier", required=True),
        text("number", 60, required=True),
        replace(happened("invoiced_on", "invoiced_on"), required=True),
        Column("amount", Kind.MONEY, "amount", required=True, least=-MOST_MONEY, most=MOST_MONEY),
        CURRENCY,
        text("what_for", 300, required=True),
        Column("is_reversal", YES_NO, "is_reversal", default=False),
        WHEN_ENTERED,
        ENTERED_BY,
        link("corrects", "outside_invoices"),
        CORRECTED,
        WHY_CORRECTED,
    ),
    ("supplier", "number", "entered_at", "amount"),
)
