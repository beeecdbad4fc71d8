"""Money in words."""

from __future__ import annotations

from django import template

from analytics.kernel.spend import Spend
from analytics.reports.budget import money as money_words

register = template.Library()


@register.filter
def money(spend: Spend, currency: str) -> str:
    """Expected money with its range, in the currency."""
    return money_words(spend, currency)
