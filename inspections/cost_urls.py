"""Addresses of what work and outside repairs cost."""

from django.urls import path

from inspections.views import work_costs

urlpatterns = [
    path("work-costs/", work_costs.work_costs, name="work-costs"),
    path("work-costs/invoices/new/", work_costs.invoice_new, name="invoice-new"),
    path("work-costs/invoices/<int:pk>/back/", work_costs.invoice_back, name="invoice-back"),
    path("work-costs/rates/new/", work_costs.rate_new, name="rate-new"),
    path("visits/<int:pk>/minutes/", work_costs.visit_minutes, name="visit-minutes"),
]
