"""Failures on their doors' cycles, and the evidence of lives, as columns of derived tables."""

from __future__ import annotations

import json
from typing import Any

import numpy as np

from analytics.assessment.by_place import places_json
from analytics.assessment.life_evidence import life_evidence
from analytics.assessment.lives import ComponentLifeFound, LifeRows, assess_lives
from analytics.assessment.whole import DoorsFound
from analytics.datasets.columns import Ints
from analytics.datasets.places import Places, fetch_places
from analytics.recompute import values
from analytics.recompute.store import Columns


def failure_columns(generation_id: int, found: DoorsFound, doors: Ints) -> Columns:
    """One row per failure of the chosen doors."""
    fleet, faults = found.fleet, found.fleet.faults
    wanted = np.zeros(len(fleet.doors), bool)
    wanted[doors] = True
    chosen = np.flatnonzero(faults.is_failure & wanted[faults.door])
    door = faults.door[chosen]
    component = faults.component_id[chosen]
    return {
        "generation": [generation_id] * len(chosen),
        "fault": faults.ids[chosen].tolist(),
        "door": fleet.doors.ids[door].tolist(),
        "depot": values.ids(fleet.doors.depot[door], fleet.doors.depots.ids),
        "component": [each if each >= 0 else None for each in component.tolist()],
        "day": faults.day[chosen].tolist(),
        "at_cycles": found.exposure.fault_cycles[chosen].tolist(),
    }


def evidence_columns(
    generation_id: int, found: DoorsFound, lives: tuple[ComponentLifeFound, ...]
) -> Columns:
    """One row per component of which a part is or was fitted."""
    places = fetch_places()
    rows = assess_lives(found.fleet, found.usage.series, found.exposure)
    return {
        "generation": [generation_id] * len(lives),
        "component": [life.component_id for life in lives],
        "figures": [json.dumps(_evidence(found, life, rows, places)) for life in lives],
    }


def _evidence(
    found: DoorsFound, life: ComponentLifeFound, rows: LifeRows, places: Places
) -> dict[str, Any]:
    fleet = found.fleet
    return life_evidence(life, rows, fleet.fitments) | {
        "places": places_json(fleet, found.exposure, places, life.component_id)
    }
