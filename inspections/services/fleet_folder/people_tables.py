"""The people whom the record names. Their accounts do not travel: who comes in may not sign in."""

from fleetdoors.models import Role, User
from inspections.services.fleet_folder.columns import Column, Keeping, Kind, Table
from inspections.services.fleet_folder.common_columns import TEXT

PEOPLE = Table(
    "people",
    User,
    (
        Column("person", TEXT, "username", required=True, max_length=150),
        Column("first_name", TEXT, "first_name", max_length=150),
        Column("last_name", TEXT, "last_name", max_length=150),
        Column("role", TEXT, "role", choices=tuple(Role.values)),
        Column("depots", Kind.SEVERAL, "depots", refers_to="depots"),
    ),
    key=("person",),
    keeping=Keeping.FIRST_WORD,
    local_to="",
)
