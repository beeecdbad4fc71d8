"""Naming people for spring work, and taking the word back."""

from __future__ import annotations

from datetime import date, datetime

from fleetdoors.models import User
from inspections.models import SpringAuthorisation


def grant_spring_word(
    *, person: User, from_on: date, until_on: date, granted_by: str, evidence: str
) -> SpringAuthorisation:
    """Put on record that the shop has named a person for spring work."""
    return SpringAuthorisation.objects.create(
        person=person,
        from_on=from_on,
        until_on=until_on,
        granted_by=granted_by.strip()[:100],
        evidence=evidence.strip()[:200],
    )


def withdraw_spring_word(*, word: SpringAuthorisation, withdrawn_at: datetime) -> None:
    """Take the word back from a moment on; what was granted before stays on record."""
    if word.withdrawn_at is None:
        word.withdrawn_at = withdrawn_at
        word.save(update_fields=("withdrawn_at",))
