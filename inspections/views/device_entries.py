"""Where a phone brings what was entered without signal."""

from __future__ import annotations

import json
import logging
from datetime import datetime
from typing import Any

from django.http import HttpRequest, JsonResponse
from django.middleware.csrf import get_token
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods

from fleetdoors.access import open_to_strangers
from fleetdoors.models import User
from inspections.models import DeviceEntry, EntryOutcome
from inspections.services.device_entries import read_entry, take_entry
from inspections.services.device_kinds.arriving import EntryRefusedError, EntryTooEarlyError

log = logging.getLogger(__name__)

LARGEST_BODY = 4 * 1024 * 1024
MOST_ENTRIES = 200
# Where a person sees what an entry became; the others stay on their page.
PAGES = {
    "reading": "reading-saved",
    "fault": "fault-detail",
    "inspection": "inspection-detail",
    "visit": "visit-detail",
}
UNAUTHORIZED, BAD_REQUEST, TOO_LARGE = 401, 400, 413


@open_to_strangers
@never_cache
@require_http_methods(["GET", "POST"])
def round_entries(request: HttpRequest) -> JsonResponse:
    """Take entries one by one; asked without any, say whose session this is.

    Open to strangers so that a phone whose session has run out hears it in words: a redirect to
    the sign-in page would look to it like an answer.
    """
    if not isinstance(request.user, User):
        message = _("Your sign-in has run out. What you entered is still on this phone: sign in.")
        return _say(message, UNAUTHORIZED)
    if request.method == "GET":
        return JsonResponse({"csrf_token": get_token(request), "person": request.user.pk})
    if int(request.META.get("CONTENT_LENGTH") or 0) > LARGEST_BODY:
        return _say(_("This is too large to be taken in one piece."), TOO_LARGE)
    try:
        sent = json.loads(request.body)
    except ValueError:
        return _say(_("Entries come as a JSON list: this is none."), BAD_REQUEST)
    if not isinstance(sent, list) or len(sent) > MOST_ENTRIES:
        return _say(_("Entries come as a JSON list of at most 200."), BAD_REQUEST)
    now = timezone.now()
    return JsonResponse({"entries": [_answer(raw, request.user, now) for raw in sent]})


def _say(message: str, status: int) -> JsonResponse:
    return JsonResponse({"message": message}, status=status)


def _answer(raw: Any, sender: User, now: datetime) -> dict[str, Any]:
    """What became of one entry; whatever happens to it, those behind it are taken."""
    named = raw.get("client_id") if isinstance(raw, dict) else None
    answer: dict[str, Any] = {"client_id": named, "outcome": EntryOutcome.REFUSED}
    try:
        entry = take_entry(sent=read_entry(raw), sender=sender, received_at=now)
    except EntryRefusedError as refused:
        return answer | {"refusal": str(refused)}
    except EntryTooEarlyError as early:
        return answer | {"outcome": "later", "refusal": str(early)}
    except Exception:
        # A fault of ours in one entry must not keep the others out: it stays on the phone.
        log.exception("An entry from a phone could not be taken", extra={"client_id": named})
        words = _("The server could not take this just now; it will be sent again.")
        return answer | {"outcome": "later", "refusal": words}
    return answer | _told(entry)


def _told(entry: DeviceEntry) -> dict[str, Any]:
    page = next((name for name in PAGES if name in entry.result), None)
    return {
        "outcome": entry.outcome,
        "refusal": entry.refusal,
        "differences": entry.result.get("differences", []),
        "url": reverse(PAGES[page], args=[entry.result[page]]) if page else "",
    }
