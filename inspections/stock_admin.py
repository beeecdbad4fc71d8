"""Stock, orders and claims in the administrator's forms: registries are kept, events looked at."""

from __future__ import annotations

from django.contrib import admin

from fleetdoors.admin.registry import RecordAdmin, RegistryAdmin
from inspections.models import (
    OrderCharge,
    OrderLine,
    OrderReceipt,
    OrderStep,
    PartReservation,
    PartReturn,
    PartReturnStep,
    PurchaseOrder,
    StockBalance,
    StockLot,
    StockMovement,
    StockPlace,
    StockTransfer,
    Supplier,
    SupplierPrice,
)


@admin.register(StockPlace)
class StockPlaceAdmin(RegistryAdmin):
    list_display = ("depot", "kind", "name", "keeper")
    list_filter = ("kind", "depot")
    list_select_related = ("depot", "keeper")
    autocomplete_fields = ("depot", "keeper")


@admin.register(StockLot)
class StockLotAdmin(RegistryAdmin):
    list_display = ("part", "number", "revision", "made_on", "use_by_on")
    list_select_related = ("part",)
    search_fields = ("number", "part__part_number")
    autocomplete_fields = ("part",)


@admin.register(Supplier)
class SupplierAdmin(RegistryAdmin):
    list_display = ("code", "name", "currency", "is_active")
    search_fields = ("code", "name")


@admin.register(SupplierPrice)
class SupplierPriceAdmin(RegistryAdmin):
    list_display = ("part", "supplier", "unit_price", "currency", "valid_from", "valid_until")
    list_filter = ("supplier",)
    list_select_related = ("part", "supplier")
    search_fields = ("part__part_number", "supplier_part_number")
    autocomplete_fields = ("part", "supplier")


@admin.register(StockBalance)
class StockBalanceAdmin(RecordAdmin):
    list_display = ("place", "part", "on_hand", "needs_count", "bin")
    list_filter = ("needs_count",)
    list_select_related = ("place__depot", "part")
    search_fields = ("part__part_number",)


@admin.register(StockMovement)
class StockMovementAdmin(RecordAdmin):
    list_display = ("moved_at", "place", "part", "kind", "quantity", "balance_after", "reason")
    list_filter = ("kind",)
    list_select_related = ("place__depot", "part")
    search_fields = ("part__part_number",)


@admin.register(StockTransfer)
class StockTransferAdmin(RecordAdmin):
    list_display = ("part", "from_place", "to_place", "quantity", "sent_at", "arrived")
    list_select_related = ("part", "from_place__depot", "to_place__depot")


@admin.register(PartReservation)
class PartReservationAdmin(RecordAdmin):
    list_display = ("depot", "part", "quantity", "reserved_at", "ended_at", "was_used")
    list_select_related = ("depot", "part")


@admin.register(PurchaseOrder)
class PurchaseOrderAdmin(RecordAdmin):
    list_display = ("number", "supplier", "depot", "state", "placed_at", "ended_at")
    list_filter = ("state",)
    list_select_related = ("supplier", "depot")
    search_fields = ("number",)


@admin.register(OrderLine)
class OrderLineAdmin(RecordAdmin):
    list_display = ("order", "part", "quantity", "received", "called_off", "expected_on")
    list_select_related = ("order", "part")


@admin.register(OrderStep)
class OrderStepAdmin(RecordAdmin):
    list_display = ("order", "line", "kind", "day", "pieces", "entered_at")
    list_select_related = ("order", "line__order", "line__part")


@admin.register(OrderReceipt)
class OrderReceiptAdmin(RecordAdmin):
    list_display = ("part", "line", "quantity", "damaged", "received_at", "taken_back_at")
    list_select_related = ("part", "line__order", "line__part")


@admin.register(OrderCharge)
class OrderChargeAdmin(RecordAdmin):
    list_display = ("order", "kind", "amount", "entered_at")
    list_select_related = ("order",)


@admin.register(PartReturn)
class PartReturnAdmin(RecordAdmin):
    list_display = ("part", "supplier", "kind", "state", "quantity", "entered_at")
    list_filter = ("state", "kind")
    list_select_related = ("part", "supplier")


@admin.register(PartReturnStep)
class PartReturnStepAdmin(RecordAdmin):
    list_display = ("claim", "kind", "taken_at", "credit", "currency")
    list_select_related = ("claim__part", "claim__supplier")
