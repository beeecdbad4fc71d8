"""Who calls, and what that system may do: the one rule for every operation of the interface."""

from __future__ import annotations

from collections.abc import Iterable

from django.http import HttpRequest
from ninja.errors import HttpError
from ninja.security import HttpBearer

from fleetdoors.models import Depot, MachineToken
from fleetdoors.services.machine_tokens import token_shown

NOT_ALLOWED = 403
NOT_FOUND = 404


class MachineRequest(HttpRequest):
    """A call that passed the door: `auth` is the token it showed."""

    auth: MachineToken


class _Bearer(HttpBearer):
    """Let in whoever shows a token in force that has the right."""

    right: str

    def authenticate(self, _request: HttpRequest, token: str) -> MachineToken | None:
        """The token, None for an unknown one; refuses one without the right. Queries once."""
        shown = token_shown(token)
        if shown is not None and not getattr(shown, self.right):
            raise HttpError(NOT_ALLOWED, "This token may not do that.")
        return shown


class Reader(_Bearer):
    """Systems that may read doors, due tasks, figures and stock."""

    right = "may_read"


class Poster(_Bearer):
    """Systems that may post counter readings."""

    right = "may_post_readings"


def depots_asked_for(token: MachineToken, code: str | None) -> list[Depot]:
    """The depots in the token's sight, or the one asked for; one out of sight is not found."""
    found = [each for each in token.depots_in_sight() if code in (None, each.code)]
    if code is not None and not found:
        raise HttpError(NOT_FOUND, "No depot with this code is in this token's sight.")
    return found


def depot_ids(depots: Iterable[Depot]) -> list[int]:
    """Their keys."""
    return [depot.pk for depot in depots]
