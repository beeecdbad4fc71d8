"""The only door from rows to arrays; every fetch honours `as_of`."""

from analytics.datasets.clock import AsOf
from analytics.datasets.fleet import (
    Fleet,
    PartsRecord,
    UsageRecord,
    fetch_fleet,
    fetch_parts_record,
    fetch_usage_record,
)

__all__ = [
    "AsOf",
    "Fleet",
    "PartsRecord",
    "UsageRecord",
    "fetch_fleet",
    "fetch_parts_record",
    "fetch_usage_record",
]
