"""The three fleets of the contact sheet: the demo, an empty database, and an absurd one.

The absurd one has every object that an address can name, names as long as their columns allow, and
hundreds of doors that nobody reads.
"""

from __future__ import annotations

import shutil
from pathlib import Path

from tests.services.processes import Installation

FLEETS = ("demo", "empty", "absurd")
PASSWORD = "sheet-6841-door"
DOORS = 300
# Columns in which people write words of their own; all but codes, by which addresses name things.
WORDS = {
    "name", "title", "note", "reason", "what_is_wrong", "what_for", "read_by", "done_by", "label",
    "reporter", "because", "owner", "make", "supplier", "detail", "signed_by", "looked_by", "words",
    "inspector", "closing_reason", "what_to_look_at", "evidence", "serial_number", "delivery_note",
    "supplier_reference", "bin",
}  # fmt: skip
# The program's own lists, which no fleet renames.
OURS = {"Component", "MaintenanceTask"}
LONG = (
    "Ünterhaltungs-und-Instandsetzungsabteilung of the Very Long Yard at the Far End of the Road "
)


def built(fleet: str, folder: Path) -> tuple[Installation, str]:
    """An installation that holds the fleet, made once and then kept, and everybody's password."""
    installation = Installation(folder, {"DEMO": "true"} if fleet == "demo" else {})
    is_there = folder / "is_built"
    if not is_there.exists():
        shutil.rmtree(folder, ignore_errors=True)
        folder.mkdir(parents=True)
        _fill(fleet, installation)
        is_there.touch()
    if fleet != "demo":
        return installation, PASSWORD
    return installation, (folder / "demo_password").read_text().strip()


def _fill(fleet: str, installation: Installation) -> None:
    if fleet == "demo":
        installation.do("demo", "--no-serve")
        return
    installation.do("migrate", "--verbosity", "0")
    installation.do("shell", "--verbosity", "0", "-c",
        f"from tests.sheet.fleets import fill; fill({fleet!r})")  # fmt: skip
    if fleet == "absurd":
        installation.do("recompute")


def fill(fleet: str) -> None:
    """Bring in a person of each role and, for the absurd fleet, the rest."""
    from fleetdoors.models import Role
    from tests.factories import make_user

    for role in Role:
        person = make_user(role=role, username=role.value, is_superuser=role == Role.ADMINISTRATOR)
        person.set_password(PASSWORD)
        person.save()
    if fleet == "absurd":
        _be_absurd()


def _be_absurd() -> None:
    from django.conf import settings

    from tests.access_factories import make_depot_world, make_shared_objects
    from tests.factories import make_depot, make_door
    from tests.pages.planner_rows import make_run

    settings.RECOMPUTE_DOORS = "tests.recompute_requests.keep"
    settings.RECOMPUTE_OUTLOOKS = "tests.recompute_requests.keep_outlooks"
    run = make_run()
    mark = "A-DEPOT-WITH-A-VERY-LONG-CODE-"
    make_depot_world(mark=mark, run=run)
    make_shared_objects()
    depot = make_depot(code="FAR")
    for count in range(DOORS):
        make_door(serial=f"SERIAL-AS-LONG-AS-THEY-COME-{count:05d}", depot=depot)
    stretch_words()


def stretch_words() -> None:
    """Fill every column of free words to its end."""
    from django.apps import apps
    from django.db import models

    for label in ("fleetdoors", "inspections"):
        for model in apps.get_app_config(label).get_models():
            columns = {
                field.name: (LONG * 6)[: min(field.max_length or 500, 500)].strip()
                for field in model._meta.concrete_fields
                if isinstance(field, models.CharField | models.TextField)
                and field.name in WORDS
                and not field.choices
                and not field.unique
            }
            if columns and model.__name__ not in OURS:
                # Past the managers: some keep what was written from ever being changed.
                models.QuerySet(model).update(**columns)
