"""What a phone says about the people who share it; `{…}` is filled in on the phone."""

from __future__ import annotations

from django.utils.translation import gettext as _


def writer_words() -> dict[str, str]:
    """On every page: who writes, and the question for the PIN."""
    return {
        "writes": _("Entries are by {person}."),
        "locked": _("Entries are by {person}, once the PIN is typed."),
        "ask_pin": _("PIN of {person}"),
        "unlock": _("Go on"),
        "cancel": _("Not now"),
        "wrong_pin": _("This is not the PIN of {person}. What you entered is still here."),
        "wait_pin": _("Too many wrong tries: the next one is taken in {seconds} seconds."),
        "no_crypto": _("This browser keeps no PINs: it needs a page sent over HTTPS."),
    }


def people_words() -> dict[str, str]:
    """On the page of the people."""
    return {
        "signed_in": _("{person}, signed in"),
        "by_pin": _("{person}, by PIN"),
        "writes_now": _("writes now"),
        "switch": _("{person} goes on"),
        "take_off": _("Take {person} off this phone"),
        "nobody": _("Nobody has been added to this phone yet."),
        "added": _("{person} was added to this phone and writes now."),
        "needs_signal": _("Adding a person needs a signal once. Nothing was changed."),
        "old": _("added {days} days ago: add again soon, the word is good for 90 days"),
    }
