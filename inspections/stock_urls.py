"""Addresses of stock, orders, deliveries, transfers, suppliers and claims."""

from django.urls import path

from inspections.views import (
    claims,
    order_changes,
    order_export,
    orders,
    receiving,
    stock,
    stock_ledger,
    suppliers,
    transfers,
)

urlpatterns = [
    path("depots/<key:code>/stock/", stock.stock_count, name="stock-count"),
    path("depots/<key:code>/stock/count/", stock.stock_count_new, name="stock-count-new"),
    path("depots/<key:code>/stock/sheet/", stock.stock_sheet, name="stock-sheet"),
    path("depots/<key:code>/stock/kit/", stock_ledger.kit_issue, name="kit-issue"),
    path(
        "depots/<key:code>/stock/part/<key:part>/move/",
        stock_ledger.stock_move,
        name="stock-move",
    ),
    path(
        "depots/<key:code>/stock/part/<key:part>/send/",
        transfers.transfer_new,
        name="transfer-new",
    ),
    path("depots/<key:code>/stock/part/<key:part>/", stock_ledger.ledger, name="stock-ledger"),
    path("movements/<int:pk>/take-back/", stock_ledger.movement_undo, name="movement-undo"),
    path("reservations/<int:pk>/free/", stock_ledger.reservation_free, name="reservation-free"),
    path("transfers/", transfers.transfer_list, name="transfer-list"),
    path("transfers/<int:pk>/", transfers.transfer_receive, name="transfer-receive"),
    path("transfers/<int:pk>/call-back/", transfers.transfer_back, name="transfer-back"),
    path("orders/", orders.order_list, name="order-list"),
    path("orders/new/", orders.order_new, name="order-new"),
    path("deliveries/", receiving.receive_start, name="receive"),
    path("deliveries/part/<key:part>/", receiving.receive_part, name="receive-part"),
    path("deliveries/lines/<int:pk>/", receiving.receive_order_line, name="receive-line"),
    path("orders/lines/<int:pk>/strike/", order_changes.line_strike, name="order-line-strike"),
    path("orders/lines/<int:pk>/day/", order_changes.line_day, name="order-line-day"),
    path("orders/lines/<int:pk>/call-off/", order_changes.line_call_off, name="order-line-off"),
    path("deliveries/<int:pk>/take-back/", receiving.receipt_undo, name="receipt-undo"),
    path("orders/<key:number>/line/", orders.order_line_new, name="order-line-new"),
    path("orders/<key:number>/place/", order_changes.order_place, name="order-place"),
    path("orders/<key:number>/remind/", order_changes.order_remind, name="order-remind"),
    path("orders/<key:number>/cost/", order_changes.order_charge, name="order-charge"),
    path("orders/<key:number>/call-off/", order_changes.order_call_off, name="order-call-off"),
    path("orders/<key:number>/order.csv", order_export.order_csv, name="order-csv"),
    path("orders/<key:number>/order.xlsx", order_export.order_workbook, name="order-workbook"),
    # A key takes any sign, also a slash: what is longer comes first.
    path("orders/<key:number>/", orders.order_detail, name="order-detail"),
    path("suppliers/", suppliers.supplier_list, name="supplier-list"),
    path("suppliers/new/", suppliers.supplier_new, name="supplier-new"),
    path("suppliers/<key:code>/", suppliers.supplier_detail, name="supplier-detail"),
    path("claims/", claims.claim_list, name="claim-list"),
    path("claims/new/", claims.claim_new, name="claim-new"),
    path("claims/<int:pk>/", claims.claim_detail, name="claim-detail"),
]
