"""From a valid form to what it asks for, or to the form that says why not."""

from __future__ import annotations

from collections.abc import Callable

from django import forms
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.functional import Promise

from inspections.services.corrections import CorrectionRefusedError
from inspections.services.labour import LabourRefusedError
from inspections.services.ledger import StockRefusedError
from inspections.services.order_state import OrderRefusedError
from inspections.services.outside_invoices import InvoiceRefusedError
from inspections.services.part_claims import ClaimRefusedError
from inspections.services.stock import StockCountRefusedError


def carried_out(form: forms.BaseForm, action: Callable[[], object]) -> bool:
    """Whether the action was done; if it was refused, the form says why beside the field."""
    try:
        action()
    except CorrectionRefusedError as refused:
        form.add_error(None, str(refused))
        return False
    except (
        StockRefusedError,
        OrderRefusedError,
        ClaimRefusedError,
        StockCountRefusedError,
        LabourRefusedError,
        InvoiceRefusedError,
    ) as refused:
        form.add_error(refused.field if refused.field in form.fields else None, str(refused))
        return False
    return True


def ask(
    request: HttpRequest,
    form: forms.BaseForm,
    *,
    heading: str | Promise,
    lead: str | Promise,
    save: str | Promise,
    back: str,
) -> HttpResponse:
    """The page of one form: a question, the fields, one button, and the way back."""
    context = {"form": form, "heading": heading, "lead": lead, "save": save, "back": back}
    return render(request, "inspections/ask.html", context)
