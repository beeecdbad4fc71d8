"""Who made an entry: a signed word that a page gives to the phone of the person signed in.

The phone sends it back with each entry, days later and perhaps within another person's session.
"""

from __future__ import annotations

from datetime import timedelta

from django.core import signing
from django.utils.translation import gettext as _

from fleetdoors.models import Role, User
from inspections.services.device_kinds.arriving import EntryRefusedError

SALT = "inspections.author-of-an-entry"
# A phone may lie in a drawer for a while; after that, the sender signs in as the author again.
KEPT_FOR = timedelta(days=90)
MAY_ENTER = (Role.TECHNICIAN, Role.PLANNER)


def word_of(author: User) -> str:
    """The signed word that entries made on this person's pages carry."""
    return signing.dumps(author.pk, salt=SALT)


def author_of(word: str, *, sender: User) -> User:
    """Who made the entry; EntryRefusedError where the word is no longer good, or may not enter."""
    author = _named(word) if word else sender
    if author is None or not author.is_active:
        raise EntryRefusedError(
            _("Who made this entry cannot be told any more: sign in as that person and send it.")
        )
    if not author.has_any_role(*MAY_ENTER):
        raise EntryRefusedError(
            _("%(person)s makes no entries of this kind: the role is “%(role)s”.")
            % {"person": author, "role": author.get_role_display()}
        )
    return author


def _named(word: str) -> User | None:
    try:
        key = signing.loads(word, salt=SALT, max_age=KEPT_FOR)
    except signing.BadSignature:
        return None
    return User.objects.filter(pk=key).first()
