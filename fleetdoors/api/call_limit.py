"""How often a system may call: so many calls in each minute of the clock."""

from __future__ import annotations

import time

import structlog
from django.core.cache import cache
from django.http import HttpRequest
from ninja.throttling import BaseThrottle

log = structlog.get_logger("fleetdoors")
MINUTE = 60


class CallsAMinute(BaseThrottle):
    """Counted in the cache: over all processes with Redis, in each process without it."""

    def __init__(self, calls: int, of: str) -> None:
        self.calls = calls
        self.of = of

    def allow_request(self, request: HttpRequest) -> bool:
        """Whether this call is among those allowed in this minute."""
        token = getattr(request, "auth", None)
        key = f"calls:{self.of}:{getattr(token, 'pk', 'none')}:{int(time.time() // MINUTE)}"
        try:
            cache.add(key, 0, 2 * MINUTE)
            return int(cache.incr(key)) <= self.calls
        except Exception:  # a cache that is away must not keep readings out
            log.exception("calls_not_counted")
            return True

    def wait(self) -> float:
        """Seconds until the next minute begins."""
        return MINUTE - time.time() % MINUTE
