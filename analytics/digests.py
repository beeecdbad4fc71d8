"""Sending the morning mail to those who asked for it."""

from __future__ import annotations

from datetime import datetime

import structlog
from django.conf import settings
from django.core.mail import EmailMessage
from django.utils import translation

from analytics.reports.digest import digest_for
from inspections.models import DigestChoice

log = structlog.get_logger("analytics")


class NoMailServerError(ValueError):
    """No mail server is set up: nothing can be sent."""


def send_digests(*, now: datetime, address: str) -> int:
    """Send each wanted mail that has something to say; returns how many.

    One that cannot be sent is tried again with the next: what it says stays new.
    """
    if not settings.MAIL_SERVER:
        raise NoMailServerError("MAIL_SERVER is not set: no mail can be sent.")
    sent = 0
    for choice in DigestChoice.objects.wanted():
        with translation.override(settings.LANGUAGE_CODE):
            digest = digest_for(choice.person, since=choice.told_until, now=now)
            if digest.is_empty:
                continue
            mail = EmailMessage(digest.subject, digest.text(address), to=[choice.person.email])
            try:
                mail.send()
            except OSError:
                log.exception("digest_not_sent", person=choice.person.pk)
                continue
        choice.told(until=now)
        sent += 1
    return sent
