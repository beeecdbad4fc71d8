"""Addresses of pages that stand on a floor above, by name."""

from django.urls import reverse


def door_address(serial: str) -> str:
    """The address of a door's page."""
    return reverse("door-detail", args=[serial])
