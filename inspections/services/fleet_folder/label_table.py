"""The table of the labels on doors: the code that a phone opens."""

from django.core.exceptions import ValidationError
from django.utils.translation import gettext_lazy as _

from inspections.door_code import DoorCodeError, read_code
from inspections.models import DoorLabel
from inspections.services.fleet_folder.columns import Column
from inspections.services.fleet_folder.common_columns import DOOR, TEXT
from inspections.services.fleet_folder.linked_columns import linked, moment


def _label_code(code: str) -> None:
    try:
        read_code(code)
    except DoorCodeError as error:
        raise ValidationError(_("is no code of a label: its check character is wrong")) from error


DOOR_LABELS = linked(
    "door_labels",
    DoorLabel,
    (
        DOOR,
        Column("code", TEXT, "code", required=True, max_length=10, validator=_label_code),
        moment("issued_at", required=True),
    ),
    ("door",),
)
