"""The table of announced changes: what is coming and stands in no reading yet."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any

from django.utils.translation import gettext_lazy as _

from inspections.models import AnnouncedChange, AnnouncedKind
from inspections.models.announced_change import LEAST_FACTOR, MOST_FACTOR
from inspections.services.fleet_folder.columns import Column, Rule, in_order
from inspections.services.fleet_folder.common_columns import (
    DATE,
    ENTERED_BY,
    NUMBER,
    PART,
    TEXT,
    WHOLE,
)
from inspections.services.fleet_folder.linked_columns import (
    NO_DEPOT,
    WHEN_ENTERED,
    code,
    linked,
    moment,
    person,
    text,
)

MOST_DOORS = 1_000_000
TRUCKS, USE, CAMPAIGN = (kind.value for kind in AnnouncedKind)
NEEDED = {
    "depot": (TRUCKS, CAMPAIGN),
    "until_on": (CAMPAIGN,),
    "door_model": (TRUCKS,),
    "doors": (TRUCKS, CAMPAIGN),
    "cycles_per_day": (TRUCKS,),
    "factor": (USE,),
    "part": (CAMPAIGN,),
    "new_part": (CAMPAIGN,),
    "pieces_per_door": (CAMPAIGN,),
}


def _given(name: str, kinds: tuple[str, ...]) -> Callable[[Mapping[str, Any]], bool]:
    return lambda row: row["kind"] not in kinds or row[name] is not None


def _needed(name: str, kinds: tuple[str, ...]) -> Rule:
    words = _("must not be empty where what is coming is: %(kinds)s") % {"kinds": ", ".join(kinds)}
    return Rule(name, words, _given(name, kinds))


ANNOUNCED_CHANGES = linked(
    "announced_changes",
    AnnouncedChange,
    (
        code("kind", tuple(AnnouncedKind.values), required=True),
        NO_DEPOT,
        Column("from_on", DATE, "from_on", required=True),
        Column("until_on", DATE, "until_on"),
        Column("door_model", TEXT, "door_model__code", refers_to="door_models", max_length=60),
        Column("doors", WHOLE, "doors", least=1, most=MOST_DOORS),
        Column("cycles_per_day", NUMBER, "cycles_per_day", least=0.001, most=100_000),
        text("route_kind", 60),
        Column("factor", NUMBER, "factor", least=LEAST_FACTOR, most=MOST_FACTOR),
        PART,
        replace(PART, name="new_part", lookup="new_part__part_number"),
        Column("pieces_per_door", WHOLE, "pieces_per_door", least=1, most=10_000),
        text("note", required=True),
        WHEN_ENTERED,
        ENTERED_BY,
        moment("cancelled_at"),
        person("cancelled_by"),
        text("cancelled_because"),
    ),
    ("kind", "depot", "from_on", "entered_at", "door_model", "part", "note"),
    local_to="depot",
    rules=(
        *(_needed(name, kinds) for name, kinds in NEEDED.items()),
        in_order("from_on", "until_on"),
        Rule(
            "cancelled_because",
            _("what was cancelled needs its reason"),
            lambda row: row["cancelled_at"] is None or row["cancelled_because"] is not None,
        ),
    ),
)
