"""A moment as refusals and notes name it: by the clock in force, in figures alone."""

from __future__ import annotations

from datetime import datetime

from django.utils import timezone


def in_words(moment: datetime) -> str:
    """An aware moment such as 2026-12-01 14:05, by the clock of the door or depot in question."""
    return timezone.localtime(moment).strftime("%Y-%m-%d %H:%M")
