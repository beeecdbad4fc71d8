"""What a phone keeps for work without signal: its worker, the list of pages, and two bare pages."""

from __future__ import annotations

import json
from functools import cache
from hashlib import sha256
from pathlib import Path

from django.contrib.staticfiles import finders
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import render
from django.templatetags.static import static
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext
from django.views.decorators.cache import never_cache
from django.views.decorators.gzip import gzip_page

from fleetdoors.access import SignedInRequest, open_to, open_to_strangers
from fleetdoors.models import Role
from fleetdoors.units_in_use import in_words, system_in_use
from inspections.services.device_kinds import VERSION
from inspections.services.round import pages_of_round
from inspections.tracing.as_json import tree_as_json

# Everything that the pages of the round are made of; never the chart library.
SHELL_FILES = (
    "fleetdoors/tokens.css",
    "fleetdoors/app.css",
    "fleetdoors/app.js",
    "fleetdoors/mark.svg",
    "django_htmx/htmx-2.min.js",
    "inspections/round.css",
    "inspections/outbox.js",
    "inspections/writer.js",
    "inspections/typed.js",
    "inspections/timer.js",
    "inspections/round.js",
    "inspections/waiting.js",
    "inspections/people.js",
    "inspections/fault_page.js",
    "inspections/visit_close.js",
    "inspections/visit_journal.js",
    "inspections/visit_page.js",
    "inspections/trace.js",
    "inspections/likely.js",
    "inspections/trace_page.js",
)
WORKER = "inspections/sw.js"


@open_to_strangers
def service_worker(_request: HttpRequest) -> HttpResponse:
    """The worker, with what it has to keep; the browser asks for it afresh at each visit."""
    shell = {
        "version": shell_version(),
        "files": [static(name) for name in SHELL_FILES],
        "outbox": static("inspections/outbox.js"),
        "entries": reverse("round-entries"),
        "data": reverse("round-data"),
        "tree": reverse("round-tree"),
        "shop": reverse("round-shop"),
        "fallback": reverse("round-offline"),
        "signIn": reverse("sign-in"),
        "signOut": reverse("sign-out"),
        "static": static(""),
    }
    source = f"const SHELL = {json.dumps(shell)};\n{_text(WORKER)}"
    response = HttpResponse(source, content_type="text/javascript; charset=utf-8")
    response["Cache-Control"] = "no-store"
    response["Service-Worker-Allowed"] = "/"
    return response


@open_to(Role.TECHNICIAN, Role.PLANNER)
@never_cache
@gzip_page
def round_data(request: SignedInRequest) -> JsonResponse:
    """The pages of the round that a phone keeps, each with a mark that changes with it."""
    now = timezone.now()
    whole = pages_of_round(person=request.user, as_of=now)
    # A page kept in other units is fetched anew.
    version = f"{shell_version()}·{system_in_use()}"
    return JsonResponse(
        {
            "person": request.user.pk,
            "pages": [{"url": each.url, "mark": f"{version}·{each.mark}"} for each in whole.pages],
            "labels": dict(whole.doors_by_label),
        }
    )


@open_to(Role.TECHNICIAN, Role.PLANNER)
@gzip_page
def round_tree(_request: SignedInRequest) -> JsonResponse:
    """The fault-tracing tree that the phone walks."""
    return JsonResponse(tree_as_json(lambda words: in_words(gettext(words))))


@open_to_strangers
def round_offline(request: HttpRequest) -> HttpResponse:
    """Shown in place of a page that is not on the phone; it names nobody."""
    return render(request, "inspections/offline.html")


@open_to(Role.TECHNICIAN, Role.PLANNER)
def round_waiting(request: SignedInRequest) -> HttpResponse:
    """What waits on this phone, and what the server refused: filled in by the phone itself."""
    return render(request, "inspections/offline_waiting.html")


@cache
def shell_version() -> str:
    """Changes with any file that the phone keeps, and with the version of its entries."""
    digest = sha256(str(VERSION).encode())
    for name in (*SHELL_FILES, WORKER):
        digest.update(_text(name).encode())
    return digest.hexdigest()[:12]


def _text(name: str) -> str:
    found = finders.find(name)
    if not isinstance(found, str):
        raise FileNotFoundError(f"No static file is named {name}.")
    return Path(found).read_text(encoding="utf-8")
