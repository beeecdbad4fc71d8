"""The command that lets old records go."""

from __future__ import annotations

from argparse import ArgumentParser, RawDescriptionHelpFormatter
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from fleetdoors.models import DoorUnit
from fleetdoors.retention import RuleSet
from inspections.services.retention.departed import Departed, departed_doors
from inspections.services.retention.letting_go import KeptError, let_go

ABOUT = """\
List the doors that left the fleet, with the day until which the records of each are kept, and with
--do delete those whose day has come: readings, faults, reports, visits, inspections, measurements
and their photos, a door whole or not at all. Stock, invoices, parts used, and where a door was
stay; so does one row that says what was let go, when and by which rule.

Nothing is deleted without --do. A door named with --door whose day has not come is refused.
Failures and lives of a door that was let go are no longer part of any figure. Make a backup first;
backups made before still hold the records.

The periods are recalled from the rules (RETENTION_RULES: us, gb, none) and are to be checked
against the law in force; the shipped ones hold beside them. The program counts days and does not
say that a record meets a rule.
"""


class Command(BaseCommand):
    """`purge [--door SERIAL] [--do]`."""

    help = ABOUT

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.formatter_class = RawDescriptionHelpFormatter
        parser.epilog = (
            "Exit status: 0 done or listed, 2 refused with the reason, or wrong usage.\n"
            "Example: python manage.py purge --do"
        )
        parser.add_argument("--door", metavar="SERIAL", help="only this door")
        parser.add_argument("--do", action="store_true", help="delete what is listed as due")

    def handle(self, **options: Any) -> None:
        now, rules = timezone.now(), RuleSet(settings.RETENTION_RULES)
        door = self._door(options["door"])
        if door is not None and options["do"]:
            self._let_go([door], rules)
            return
        found = departed_doors(rules, door)
        self.stdout.write(f"Rules: {rules.label}")
        for each in found:
            self.stdout.write(_line(each) + (", may go" if each.may_go(now) else ""))
        due = [each.door for each in found if each.may_go(now)]
        if options["do"]:
            self._let_go(due, rules)
        else:
            self.stdout.write(f"{len(found)} left, {len(due)} may go; nothing was deleted.")

    def _door(self, serial: str | None) -> DoorUnit | None:
        if serial is None:
            return None
        door = DoorUnit.objects.filter(serial=serial).first()
        if door is None:
            raise CommandError(f"--door must name a door on record; got {serial}.", returncode=2)
        return door

    def _let_go(self, doors: list[DoorUnit], rules: RuleSet) -> None:
        for door in doors:
            try:
                gone = let_go(door=door, rule_set=rules, at=timezone.now(), by=None)
            except KeptError as why:
                raise CommandError(str(why), returncode=2) from why
            self.stdout.write(f"{door.serial}: {sum(gone.rows.values()):,} rows let go")
        self.stdout.write(f"{len(doors)} doors let go")


def _line(each: Departed) -> str:
    longest = each.governed_by
    until = each.may_go_on or "its truck leaves"
    return (
        f"{each.door.serial}: left {each.left_on}, {each.rows:,} rows, kept until {until} "
        f"({longest.label if longest else 'nothing dated'})"
    )
