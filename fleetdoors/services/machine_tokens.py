"""Tokens of systems are issued once, kept as digests, and found again by what a call shows."""

from __future__ import annotations

import hashlib
import secrets
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from django.db import transaction
from django.utils.translation import gettext as _

from fleetdoors.models import Depot, MachineToken, User

PREFIX = "fld_"
SHOWN_SIGNS = 10


class TokenRefusedError(ValueError):
    """No such token is issued."""


@dataclass(frozen=True)
class IssuedToken:
    """A new token and its secret, which is shown once and kept nowhere."""

    token: MachineToken
    secret: str


@transaction.atomic
def issue_token(
    *,
    name: str,
    may_read: bool,
    may_post_readings: bool,
    depots: Iterable[Depot],
    issued_by: User | None,
    issued_at: datetime,
) -> IssuedToken:
    """Make a token of 256 random bits; a fast digest is enough for a secret nobody chose."""
    if not name.strip():
        raise TokenRefusedError(_("A token names the system that holds it."))
    if not (may_read or may_post_readings):
        raise TokenRefusedError(_("A token that may do nothing is of no use: tick what it may do."))
    secret = PREFIX + secrets.token_urlsafe(32)
    token = MachineToken.objects.create(
        name=name.strip(),
        begins_with=secret[:SHOWN_SIGNS],
        digest=digest_of(secret),
        may_read=may_read,
        may_post_readings=may_post_readings,
        issued_at=issued_at,
        issued_by=issued_by,
    )
    token.depots.set(depots)
    return IssuedToken(token, secret)


def token_shown(secret: str) -> MachineToken | None:
    """The token in force whose secret this is; queries once."""
    return MachineToken.objects.in_force().filter(digest=digest_of(secret)).first()


def digest_of(secret: str) -> str:
    """What is kept of a secret."""
    return hashlib.sha256(secret.encode()).hexdigest()
