"""The tables of who sells parts, and at what price from which day."""

from dataclasses import replace

from django.core.validators import validate_email

from inspections.models import Supplier, SupplierPrice
from inspections.models.supplier import CURRENCY
from inspections.services.fleet_folder.columns import Column, Keeping, Kind, Table, in_order
from inspections.services.fleet_folder.common_columns import DATE, NUMBER, PART, TEXT, WHOLE

MOST_PRICE = 9_999_999
SUPPLIER = Column("supplier", TEXT, "supplier__code", refers_to="suppliers", max_length=40)

SUPPLIERS = Table(
    "suppliers",
    Supplier,
    (
        Column("supplier", TEXT, "code", required=True, max_length=40),
        Column("name", TEXT, "name", stand_in="supplier"),
        Column("currency", TEXT, "currency", max_length=3, validator=CURRENCY),
        Column("email", TEXT, "email", max_length=254, validator=validate_email),
        Column("phone", TEXT, "phone", max_length=40),
        Column("customer_number", TEXT, "customer_number", max_length=40),
        Column("note", TEXT, "note"),
        Column("is_active", Kind.YES_NO, "is_active"),
    ),
    key=("supplier",),
    keeping=Keeping.LAST_WORD,
)
SUPPLIER_PRICES = Table(
    "supplier_prices",
    SupplierPrice,
    (
        replace(SUPPLIER, required=True),
        replace(PART, required=True),
        Column("valid_from", DATE, "valid_from", required=True),
        Column("valid_until", DATE, "valid_until"),
        Column("supplier_part_number", TEXT, "supplier_part_number", max_length=80),
        Column("unit_price", Kind.PRICE, "unit_price", required=True, most=MOST_PRICE),
        Column("currency", TEXT, "currency", required=True, max_length=3, validator=CURRENCY),
        Column("pack_size", WHOLE, "pack_size", least=1, most=1_000_000),
        Column("minimum_quantity", WHOLE, "minimum_quantity", least=1, most=1_000_000),
        Column("quoted_lead_days", NUMBER, "quoted_lead_days", most=10_000),
    ),
    key=("supplier", "part", "valid_from"),
    keeping=Keeping.LAST_WORD,
    rules=(in_order("valid_from", "valid_until"),),
)
