"""Addresses of what to buy, and what it will cost."""

from django.urls import path

from analytics.views import budget, order_today

urlpatterns = [
    path("order-today/", order_today.order_today, name="order-today"),
    path("budget/", budget.budget, name="budget"),
    path("budget.xlsx", budget.budget_workbook, name="budget-workbook"),
]
