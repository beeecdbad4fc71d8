"""The choice of units, at the foot of each page."""

from __future__ import annotations

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.http import require_POST

from fleetdoors.access import open_to_strangers
from fleetdoors.measures import System
from fleetdoors.units_in_use import COOKIE, COOKIE_SECONDS


@open_to_strangers
@require_POST
def choose_units(request: HttpRequest) -> HttpResponse:
    """Remember the units, and go back to the page."""
    onward = request.POST.get("next", "")
    host = {request.get_host()}
    if not url_has_allowed_host_and_scheme(onward, host, require_https=request.is_secure()):
        onward = "/"
    response = redirect(onward)
    chosen = request.POST.get("units", "")
    if chosen in list(System):
        response.set_cookie(
            COOKIE, chosen, max_age=COOKIE_SECONDS, samesite="Lax", secure=settings.HTTPS
        )
    return response
