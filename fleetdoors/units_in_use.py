"""The units of whoever looks: chosen at the foot of each page, kept in a cookie."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import asdict
from typing import Any

from django.conf import settings
from django.http import HttpRequest
from django.http.response import HttpResponseBase
from django.utils.functional import lazy

from fleetdoors import measures
from fleetdoors.measures import Scale, System, scale_of, scales_of

COOKIE = "fleetdoors_units"
COOKIE_SECONDS = 365 * 24 * 3600
_IN_USE: ContextVar[System] = ContextVar("units", default=System.METRIC)


def system_in_use() -> System:
    """The units in which this request is answered; metric outside of one."""
    return _IN_USE.get()


@contextmanager
def units(system: System) -> Iterator[None]:
    """Show values in these units until the block ends."""
    before = _IN_USE.set(system)
    try:
        yield
    finally:
        _IN_USE.reset(before)


def scale_in_use(unit: str) -> Scale:
    """How a kept unit is shown now."""
    return scale_of(unit, system_in_use())


def in_words(text: object) -> str:
    """A text with the measures in it, such as 25 mm, in the units that are read now."""
    return measures.in_words(str(text), system_in_use())


in_words_lazy = lazy(in_words, str)


def scales_as_json(system: System | None = None) -> dict[str, dict[str, Any]]:
    """The units shown otherwise than kept, for pages that go on without a signal."""
    scales = scales_of(system_in_use() if system is None else system)
    return {kept: asdict(each) for kept, each in scales.items()}


class UnitsMiddleware:
    """Answers each request in the units of the cookie, or else of the install."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponseBase]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        """Answer the request."""
        asked = request.COOKIES.get(COOKIE, "")
        system = System(asked if asked in list(System) else settings.UNITS)
        with units(system):
            return self.get_response(request)
