"""Factors on the demand for parts, learned from past forecasts, as they were known at the time."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from analytics.datasets.clock import AsOf, latest_moment
from analytics.kernel.demand_calibration import DemandCalibration
from analytics.models import ForecastCheck


def fetch_demand_factors(as_of: AsOf) -> dict[str, DemandCalibration]:
    """Factors by component code from the last check before the moment; runs one query."""
    check = ForecastCheck.objects.known_at(latest_moment(as_of)).first()
    if check is None:
        return {}
    return {code: DemandCalibration(**kept) for code, kept in check.factors.items()}


def kept_factors(factors: dict[str, DemandCalibration]) -> dict[str, dict[str, Any]]:
    """Factors as a check keeps them."""
    return {code: asdict(factor) for code, factor in factors.items()}
