"""A person's own word of having looked at what changed."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.db import transaction

from fleetdoors.models import User
from inspections.models import LastLook


@transaction.atomic
def mark_as_looked(*, person: User, until: datetime, stood: dict[str, Any]) -> LastLook:
    """Keep up to when the person has looked, and what stood then; it never goes back."""
    User.objects.select_for_update().get(pk=person.pk)
    look = LastLook.objects.filter(person=person).first() or LastLook(person=person)
    if look.pk is None or look.looked_at < until:
        look.looked_at, look.stood = until, stood
        look.save()
    return look
