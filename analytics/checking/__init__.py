"""Past forecasts, repeated from what was known then and held against what happened."""

from analytics.checking.check import check_forecasts

__all__ = ["check_forecasts"]
