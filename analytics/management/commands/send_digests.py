"""Send the morning mail, or show what it would say."""

from __future__ import annotations

from argparse import ArgumentParser
from datetime import timedelta
from typing import Any

from django.conf import settings
from django.core.management.base import CommandError
from django.utils import timezone

from analytics.digests import NoMailServerError, send_digests
from analytics.reports.digest import digest_for
from fleetdoors.management.record_command import RecordCommand
from fleetdoors.models import User
from inspections.models import DigestChoice


class Command(RecordCommand):
    """`send_digests [--preview USERNAME]`."""

    help = "Send the morning mail to those who asked for it; --preview prints one and sends none."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--preview", metavar="USERNAME", help="print this person's mail only")

    def handle(self, *_args: str, **options: Any) -> None:
        now, address = timezone.now(), f"{settings.PUBLIC_ADDRESS.rstrip('/')}/"
        if options["preview"] is not None:
            self._preview(options["preview"], now, address)
            return
        try:
            sent = send_digests(now=now, address=address)
        except NoMailServerError as error:
            raise CommandError(str(error)) from error
        self.stdout.write(f"{sent} sent.")

    def _preview(self, username: str, now: Any, address: str) -> None:
        person = User.objects.filter(username=username).first()
        if person is None:
            raise CommandError(f"Nobody is called {username!r}.", returncode=2)
        choice = DigestChoice.objects.filter(person=person).first()
        since = choice.told_until if choice else now - timedelta(days=1)
        digest = digest_for(person, since=since, now=now)
        self.stdout.write(digest.text(address) if not digest.is_empty else "Nothing is new.")
