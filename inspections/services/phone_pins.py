"""A person's PIN on shared phones: set by the person alone, asked once by the server on each phone.

The PIN opens no session. It hands the phone the signed word that the person's entries carry, and
the phone keeps that word locked with the PIN, for use without a signal.
"""

from __future__ import annotations

from datetime import datetime, timedelta
from itertools import pairwise

from django.contrib.auth.hashers import check_password, make_password
from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from fleetdoors.models import User
from inspections.models import PhonePin
from inspections.services.device_authors import word_of

SHORTEST, LONGEST = 4, 8
MOST_WRONG_TRIES = 5
CLOSED_FOR = timedelta(minutes=15)


class PinRefusedError(ValueError):
    """The PIN is not taken."""


def set_pin(*, person: User, pin: str, set_at: datetime) -> PhonePin:
    """Give the person a PIN; wrong tries at the one before are forgotten."""
    _check_form(pin)
    facts = {"pin_hash": make_password(pin), "set_at": set_at}
    row, _made = PhonePin.objects.update_or_create(
        person=person, defaults={**facts, "wrong_tries": 0, "closed_until": None}
    )
    return row


def word_for_pin(*, person: User, pin: str, asked_at: datetime) -> str:
    """The word that the person's entries carry; five wrong PINs close it for a while."""
    refusal = _try_pin(person, pin, asked_at)
    if refusal:
        raise PinRefusedError(refusal)
    return word_of(person)


def _check_form(pin: str) -> None:
    if not (pin.isascii() and pin.isdecimal() and SHORTEST <= len(pin) <= LONGEST):
        raise PinRefusedError(
            _("A PIN has %(least)d to %(most)d digits.") % {"least": SHORTEST, "most": LONGEST}
        )
    steps = {int(after) - int(before) for before, after in pairwise(pin)}
    if steps in ({0}, {1}, {-1}):
        raise PinRefusedError(_("Digits all alike or in a row are guessed first: choose others."))


@transaction.atomic
def _try_pin(person: User, pin: str, moment: datetime) -> str:
    """Why the try is not taken, "" when it is right; its count stands when the caller raises."""
    row = PhonePin.objects.select_for_update().filter(person=person).first()
    if row is None:
        return _("%(person)s has set no PIN yet: that is done after signing in.") % {
            "person": person
        }
    if row.closed_until and moment < row.closed_until:
        until = timezone.localtime(row.closed_until).strftime("%H:%M")
        return _("Too many wrong tries: the next one is taken at %(moment)s.") % {"moment": until}
    is_right = check_password(pin, row.pin_hash)
    row.wrong_tries = 0 if is_right else row.wrong_tries + 1
    row.closed_until = moment + CLOSED_FOR if row.wrong_tries >= MOST_WRONG_TRIES else None
    if row.closed_until:
        row.wrong_tries = 0
    row.save(update_fields=("wrong_tries", "closed_until"))
    return "" if is_right else _("This is not the PIN of %(person)s.") % {"person": person}
