"""What a page of the round hands to the phone's scripts: addresses, whose it is, and the words."""

from __future__ import annotations

from typing import Any

from django import template
from django.urls import reverse
from django.utils.translation import gettext as _

from fleetdoors.models import User
from inspections.services.device_authors import word_of
from inspections.services.device_kinds import VERSION

register = template.Library()


@register.inclusion_tag("inspections/_phone_bar.html", takes_context=True)
def phone_bar(context: template.Context) -> dict[str, Any]:
    """How much waits on this phone, whether this is a copy, and what scripts need to know."""
    user: Any = context.get("user")
    is_ours = isinstance(user, User)
    return {
        "phone": {
            "version": VERSION,
            "person": user.pk if is_ours else None,
            "author": word_of(user) if is_ours else "",
            "authorName": str(user) if is_ours else "",
            "entries": reverse("round-entries"),
            "worker": reverse("service-worker"),
            "words": words(),
        }
    }


def words() -> dict[str, str]:
    """What the phone's scripts say; `{…}` is filled in on the phone."""
    return {
        "waits_one": _("1 entry is waiting on this phone"),
        "waits_many": _("{count} entries are waiting on this phone"),
        "refused_one": _("1 entry was refused"),
        "refused_many": _("{count} entries were refused"),
        "sign_in": _("Your sign-in has run out. Nothing is lost: sign in, and it is sent."),
        "unreachable": _("No signal: sending goes on by itself when there is one."),
        "server": _("The server took nothing just now: sending is tried again by itself."),
        "kept": _("Kept on this phone: {label}. It is sent when there is a signal."),
        "sending": _("Sending …"),
        "minutes_none": _("less than a minute"),
        "copy": _("This page is the phone's copy of {moment}, {age} old."),
        "minutes_one": _("1 minute"),
        "minutes_many": _("{count} minutes"),
        "hours_one": _("1 hour"),
        "hours_many": _("{count} hours"),
        "made_by": _("{label}, {moment}, by {author}"),
        "refused_because": _("Refused: {reason}"),
        "here": _("On this phone"),
        "there": _("On record"),
        "what": _("What"),
        "correct": _("Correct and send again"),
        "send_again": _("Send again"),
        "save": _("Save to a file"),
        "remove": _("Remove from this phone"),
        "photo": _("Photo"),
        "nothing": _("Nothing waits on this phone. Everything you entered has arrived."),
        "photo_unreadable": _("This picture could not be read and was left out."),
    }
