"""A browser of each role, and the words that one reads on a page."""

from __future__ import annotations

import re
from html import unescape

from django.test import Client

from fleetdoors.models import Role
from tests.factories import make_user

# What is typed into a field, scripts and styles are no words of the program.
_HIDDEN = re.compile(r"<(script|style|textarea)\b.*?</\1>|<[^>]+>", re.DOTALL)


def clients_of_everybody(**headers: str) -> dict[str | None, Client]:
    """A client of each role, and one of a stranger, who send these headers."""
    found: dict[str | None, Client] = {None: Client(headers=headers)}
    for role in Role.values:
        found[role] = Client(headers=headers)
        found[role].force_login(make_user(role=Role(role), is_superuser=role == Role.ADMINISTRATOR))
    return found


def words_of(page: str) -> str:
    """Everything that one reads on a page, as one line."""
    return " ".join(runs_of(page))


def runs_of(page: str) -> list[str]:
    """What one reads, run by run: two neighbours on a page are no sentence."""
    lines = _HIDDEN.sub("\n", page).splitlines()
    return [run for run in (" ".join(unescape(each).split()) for each in lines) if run]
