"""The morning mail: what it would say now, and whether one wants it."""

from __future__ import annotations

from datetime import timedelta

from django.conf import settings
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _

from analytics.reports.digest import digest_for
from fleetdoors.access import SignedInRequest, open_to
from fleetdoors.models import Role
from inspections.models import DigestChoice

A_DAY = timedelta(days=1)


@open_to(Role.PLANNER, Role.BUYER)
def digest(request: SignedInRequest) -> HttpResponse:
    """Preview and switch; off until somebody wants it."""
    now = timezone.now()
    choice = DigestChoice.objects.filter(person=request.user).first()
    if request.method == "POST":
        is_on = request.POST.get("is_on") == "1"
        DigestChoice.objects.update_or_create(
            person=request.user, defaults={"is_on": is_on}, create_defaults={
                "is_on": is_on, "told_until": now - A_DAY,
            },
        )  # fmt: skip
        messages.success(request, _("The mail comes.") if is_on else _("The mail is off."))
        return redirect("digest")
    since = choice.told_until if choice else now - A_DAY
    context = {
        "digest": digest_for(request.user, since=since, now=now),
        "is_on": bool(choice and choice.is_on),
        "has_server": bool(settings.MAIL_SERVER),
    }
    return render(request, "analytics/digest.html", context)
