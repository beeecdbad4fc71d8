"""The tables of one-off checks: what was to be looked at once, and which doors have had it."""

from django.utils.translation import gettext_lazy as _

from inspections.models import OneOffCheck, OneOffLook
from inspections.services.fleet_folder.columns import Column, Rule, in_order
from inspections.services.fleet_folder.common_columns import (
    CORRECTED,
    DOOR,
    ENTERED_BY,
    PART,
    TEXT,
    WHY_CORRECTED,
)
from inspections.services.fleet_folder.linked_columns import (
    LONG,
    WHEN_ENTERED,
    YES_NO,
    link,
    linked,
    moment,
    person,
    text,
)

ONE_OFF_CHECKS = linked(
    "one_off_checks",
    OneOffCheck,
    (
        text("title", 120, required=True),
        text("what_to_look_at", LONG, required=True),
        Column("door_model", TEXT, "door_model__code", refers_to="door_models", max_length=60),
        PART,
        moment("opened_at", required=True),
        person("opened_by"),
        moment("closed_at"),
        text("why_closed"),
    ),
    ("title", "door_model", "part", "opened_at"),
    local_to="",
    rules=(
        Rule(
            "door_model",
            _("a check is of a door model or of a part, and not of both"),
            lambda row: (row["door_model"] is None) != (row["part"] is None),
        ),
        Rule(
            "why_closed",
            _("the reason is missing"),
            lambda row: row["closed_at"] is None or row["why_closed"] is not None,
        ),
        in_order("opened_at", "closed_at"),
    ),
)
ONE_OFF_LOOKS = linked(
    "one_off_looks",
    OneOffLook,
    (
        DOOR,
        link("check_asked", "one_off_checks", required=True),
        moment("looked_at", required=True),
        text("looked_by", 100, required=True),
        Column("is_as_it_should_be", YES_NO, "is_as_it_should_be", required=True),
        text("note", 300),
        WHEN_ENTERED,
        ENTERED_BY,
        link("corrects", "one_off_looks"),
        CORRECTED,
        WHY_CORRECTED,
    ),
    ("door", "check_asked", "looked_at", "entered_at"),
    rules=(
        Rule(
            "note",
            _("what is not as it should be is told"),
            lambda row: row["is_as_it_should_be"] is not False or row["note"] is not None,
        ),
    ),
)
