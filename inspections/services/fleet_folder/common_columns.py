"""Columns that stand in many tables of a fleet folder."""

from dataclasses import replace

from django.core.exceptions import ValidationError
from django.utils.translation import gettext_lazy as _

from inspections.services.fleet_folder.columns import Column, Kind

TEXT, WHOLE, NUMBER = Kind.TEXT, Kind.WHOLE, Kind.NUMBER
DATE, MOMENT = Kind.DATE, Kind.MOMENT


def can_be_joined(code: str) -> None:
    """Refuse a code that would fall apart where several are joined by a plus sign."""
    if "+" in code:
        raise ValidationError(_("must not contain +, which joins codes"))


def happened(name: str, lookup: str, kind: Kind = DATE) -> Column:
    return Column(name, kind, lookup, has_happened=True)


DOOR = Column("door", TEXT, "door__serial", required=True, refers_to="doors", max_length=80)
TRUCK = Column(
    "truck", TEXT, "truck__fleet_number", required=True, refers_to="trucks", max_length=60
)
DEPOT = Column("depot", TEXT, "depot__code", required=True, refers_to="depots", max_length=40)
PART = Column("part", TEXT, "part__part_number", refers_to="parts", max_length=80)
COMPONENT = Column("component", TEXT, "component__code", refers_to="components", max_length=40)
TASK = Column("task", TEXT, "task__code", required=True, refers_to="tasks", max_length=10)
ENTERED = replace(happened("entered_at", "entered_at", MOMENT), identifies=False)
END_ENTERED = replace(happened("end_entered_at", "end_entered_at", MOMENT), identifies=False)
ENTERED_BY = Column(
    "entered_by", TEXT, "entered_by__username", refers_to="people", max_length=150, identifies=False
)
WHY_CORRECTED = Column("correction_reason", TEXT, "reason", identifies=False)
CORRECTED = replace(happened("corrected_at", "superseded_at", MOMENT), identifies=False)
