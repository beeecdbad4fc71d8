"""`demo`: an invented fleet to look at, served at this machine."""

import logging
import os
import sys
from getpass import getpass
from typing import Any

from django.conf import settings
from django.core.management import CommandError, call_command
from django.core.management.base import BaseCommand, CommandParser
from django.utils import timezone

from analytics.demo import Demo, OtherFleetError, prepare_demo
from fleetdoors.services.demo_end import NoDemoError, remove_demo


class Command(BaseCommand):
    help = (
        "Makes the database if there is none, loads an invented demo fleet, computes its figures, "
        "prints the address and how to enter as each person, and serves."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--port", type=int, default=settings.PORT, help="port to serve at")
        parser.add_argument("--no-serve", action="store_true", help="prepare only, do not serve")
        parser.add_argument(
            "--remove",
            action="store_true",
            help="remove the demo and all that was entered in it: an empty database stays, with "
            "one administrator, whose name and password are asked for",
        )

    def handle(self, *_args: str, **options: Any) -> None:
        if options["remove"]:
            self._remove()
            return
        call_command("migrate", verbosity=0)
        # The people and the address below are what a newcomer looks for.
        logging.getLogger("inspections").setLevel(logging.WARNING)
        try:
            demo = prepare_demo(now=timezone.now())
        except OtherFleetError as refusal:
            raise CommandError(str(refusal)) from refusal
        self._say(demo, options["port"])
        if not options["no_serve"]:
            serve(options["port"])

    def _remove(self) -> None:
        is_asked = sys.stdin.isatty()
        administrator = input("Name of the new administrator: " if is_asked else "")
        password = getpass("Password: ") if is_asked else input()
        try:
            remove_demo(administrator=administrator, password=password)
        except NoDemoError as refusal:
            raise CommandError(str(refusal)) from refusal
        self.stdout.write(f"The demo is gone. {administrator} may sign in to an empty database.")

    def _say(self, demo: Demo, port: int) -> None:
        state = "loaded and computed" if demo.was_loaded else "as you left it"
        self.stdout.write(f"Demo fleet: {demo.doors} doors, {state}. All of it is invented.\n\n")
        self.stdout.write(f"  http://localhost:{port}/\n\n")
        for person in demo.people:
            self.stdout.write(f"  {person.name:<14} {person.password}   {person.does}")
        self.stdout.write("\nStop with Ctrl+C. Data are kept in " + str(settings.DATA_DIR))
        self.stdout.flush()


def serve(port: int) -> None:
    """Become the web server: this process ends when the server does."""
    served = os.environ | {"DEMO": "true", "HOST": "127.0.0.1", "PORT": str(port)}
    command = [sys.executable, "-m", "gunicorn", "-c", "python:fleetdoors.config.gunicorn"]
    os.execve(sys.executable, command, served)
