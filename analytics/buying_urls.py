"""Addresses of what to buy, and what it will cost."""

from django.urls import path

from analytics.views import announced, budget, order_today

urlpatterns = [
    path("announced/", announced.announced_list, name="announced-list"),
    path("announced/new/<slug:kind>/", announced.announced_new, name="announced-new"),
    path("announced/<int:pk>/cancel/", announced.announced_cancel, name="announced-cancel"),
    path("order-today/", order_today.order_today, name="order-today"),
    path("budget/", budget.budget, name="budget"),
    path("budget.xlsx", budget.budget_workbook, name="budget-workbook"),
]
