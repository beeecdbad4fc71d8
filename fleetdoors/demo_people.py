"""The people of the demo: one for each role, with one password made at the first start."""

import secrets
from dataclasses import dataclass
from pathlib import Path

from django.contrib.auth.hashers import make_password
from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from fleetdoors.models import Role, User

PASSWORD_FILE = "demo_password"

_PEOPLE = (
    (Role.PLANNER, _("which doors are due, and what the week holds")),
    (Role.TECHNICIAN, _("what to do at the truck; logs readings and faults")),
    (Role.BUYER, _("what will run out, and what to order")),
    (Role.ADMINISTRATOR, _("keeps the registry and the people")),
)


@dataclass(frozen=True)
class DemoPerson:
    """How to enter as one person of the demo."""

    name: str
    password: str
    does: str | Promise


def is_demo_folder(data_dir: Path) -> bool:
    """Whether a demo was started in the data folder, and not removed since."""
    return (data_dir / PASSWORD_FILE).exists()


def demo_password(data_dir: Path) -> str:
    """The password of every demo person, made once and kept in the data folder."""
    kept = data_dir / PASSWORD_FILE
    if not kept.exists():
        kept.touch(mode=0o600)
        kept.write_text(f"roll-up-{secrets.randbelow(9000) + 1000}-{secrets.token_hex(2)}")
    return kept.read_text().strip()


def demo_people(data_dir: Path) -> list[DemoPerson]:
    """The demo's people; none where no demo was ever started in the data folder."""
    if not is_demo_folder(data_dir):
        return []
    password = demo_password(data_dir)
    return [DemoPerson(role.value, password, does) for role, does in _PEOPLE]


def let_demo_people_in(data_dir: Path) -> list[DemoPerson]:
    """Make the accounts of the demo that are missing; returns how to enter as each person."""
    password = demo_password(data_dir)
    there = set(User.objects.values_list("username", flat=True))
    hashed = make_password(password)
    User.objects.bulk_create(
        User(
            username=role.value,
            password=hashed,
            role=role,
            is_staff=role == Role.ADMINISTRATOR,
            is_superuser=role == Role.ADMINISTRATOR,
        )
        for role, _does in _PEOPLE
        if role.value not in there
    )
    return demo_people(data_dir)
