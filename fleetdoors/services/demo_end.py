"""The demo's end: a new, empty database in the place of the invented one."""

from __future__ import annotations

import shutil
from pathlib import Path

from django.conf import settings
from django.core.management import call_command
from django.utils.translation import gettext as _

from fleetdoors.demo_people import PASSWORD_FILE, is_demo_folder
from fleetdoors.models import Role, User
from fleetdoors.services.backup.scratch import scratch_database


class NoDemoError(Exception):
    """The data folder is not a demo's."""


def remove_demo(*, administrator: str, password: str) -> None:
    """Put an empty database with one person in the demo's place, and its uploads away.

    Whatever was entered in the demo goes with it. Raises NoDemoError, and touches nothing, where
    no demo was started in the data folder. Belongs in a process of its own: every query of the
    process goes to the new database meanwhile.
    """
    folder = Path(settings.DATA_DIR)
    if not is_demo_folder(folder):
        raise NoDemoError(_("%(folder)s holds no demo. Nothing was changed.") % {"folder": folder})
    with scratch_database() as scratch:
        call_command("migrate", verbosity=0, interactive=False)
        User.objects.create_superuser(
            username=administrator, password=password, role=Role.ADMINISTRATOR
        )
        scratch.take_the_place()
    for kept in (Path(settings.MEDIA_ROOT), folder / "imports"):
        shutil.rmtree(kept, ignore_errors=True)
    (folder / PASSWORD_FILE).unlink()
