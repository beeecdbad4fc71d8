"""How surroundings and use shorten the intervals of preventive tasks."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np

from analytics.datasets.catalogue import CONDITIONS
from analytics.datasets.clock import EPOCH_DATE
from analytics.datasets.columns import Flags, Floats
from analytics.datasets.depots import Depots
from analytics.datasets.fleet import Fleet
from fleetdoors.models import Duty, Setting, SeverityFactor

HIGH_DUTY_CYCLES_PER_DAY = 45.0
# Common practice, no source: three bent tracks or buckled panels within a year are no accident.
ROUGH_USE_KNOCKS = 3
ROUGH_USE_DAYS = 365.0


@dataclass(frozen=True)
class Severity:
    """Which conditions hold at each door (n, c), and the factor on each task's interval (n, t)."""

    in_force: Flags
    factor: Floats


def assess_severity(fleet: Fleet, cycles_per_day: Floats) -> Severity:
    """The depot's setting as of the day, high duty and rough use from the door's own record."""
    in_force = _settings_in_force(fleet.doors.depots)[fleet.doors.depot].copy()
    in_force[:, CONDITIONS.index(Duty.HIGH_DUTY)] = cycles_per_day > HIGH_DUTY_CYCLES_PER_DAY
    in_force[:, CONDITIONS.index(Duty.ROUGH_USE)] = _knocks(fleet) >= ROUGH_USE_KNOCKS
    product = np.exp(in_force @ np.log(fleet.tasks.factors).T)
    return Severity(in_force, np.maximum(product, SeverityFactor.FLOOR))


def _settings_in_force(depots: Depots) -> Flags:
    """Conditions by depot, (depots + 1, c)."""
    found = np.zeros((len(depots) + 1, len(CONDITIONS)), dtype=bool)
    for row in range(len(depots)):
        day = EPOCH_DATE + timedelta(days=int(np.floor(depots.day[row])))
        for word in depots.settings[row]:
            if word != Setting.SALT or is_salt_season(day, *depots.salt_seasons[row]):
                found[row, CONDITIONS.index(word)] = True
    return found


def is_salt_season(day: date, season_from: str, season_until: str) -> bool:
    """Whether a day lies in a season written MM-DD to MM-DD, which may span the new year."""
    today = f"{day:%m-%d}"
    if season_from <= season_until:
        return season_from <= today <= season_until
    return today >= season_from or today <= season_until


def _knocks(fleet: Fleet) -> Floats:
    """Faults left by knocks within the last year, by door."""
    faults = fleet.faults
    recent = faults.is_knock & (faults.day >= fleet.doors.day[faults.door] - ROUGH_USE_DAYS)
    return np.bincount(faults.door[recent], minlength=len(fleet.doors)).astype(float)
