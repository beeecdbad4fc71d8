"""What a page of the round hands to the phone's scripts: addresses, whose it is, and the words."""

from __future__ import annotations

from typing import Any

from django import template
from django.urls import reverse
from django.utils.translation import gettext as _

from fleetdoors.models import User
from inspections.services.device_authors import word_of
from inspections.services.device_kinds import VERSION
from inspections.services.phone_people import writer_words

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
            "shop": reverse("round-shop"),
            "words": words() | form_words() | writer_words(),
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


def form_words() -> dict[str, str]:
    """What is said beside a field: drafts, slips, timers."""
    return {
        "draft": _("What you typed at {moment} is still here."),
        "empty_form": _("Empty the form"),
        "impossible": _("{name} cannot read {value} {unit}: between {low} and {high} is possible."),
        "meant": _("{name}: {value} {unit}. Was {meant} meant (decimal point)?"),
        "unusual": _("{name}: {value} {unit} is unusual. Is it right?"),
        "no_number": _("{name} is a number; “{value}” is none."),
        "take_meant": _("Yes, {meant} {unit}"),
        "is_right": _("It is right as typed"),
        "door_waits_one": _("1 entry waits"),
        "door_waits_many": _("{count} entries wait"),
        "hold_start": _("Start the 10 s hold"),
        "hold_runs": _("Hold still: {seconds} s left"),
        "hold_over": _("10 seconds are over: read the drift now."),
        "discharge_start": _("Start the wait of 60 s"),
        "discharge_runs": _("Still discharging: {seconds} s left"),
        "discharge_over": _("The minute is over. Measure before you touch: under 5 V."),
        "travel_start": _("Start when the door starts: {name}"),
        "travel_stop": _("Stop when the door stands"),
        "travel_over": _("{name}: {seconds} s, written above."),
        "timer_again": _("Once more"),
        "timer_stop": _("Stop"),
    }
