"""Suspect readings: found, rarely raised for nothing, and put right when a value is offered."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from analytics.kernel.causes import Cause
from analytics.proof.claim import Claim, Effort
from analytics.proof.made_fleet import MadeFleet, follow, make_fleet
from analytics.synthetic.fleet import FleetPlan
from analytics.synthetic.readings import CAUSES, EXCHANGE, ROLLOVER, STUCK

GROUP = "counter slips"
DOORS, DAYS = 1_000, 900
# A slip that moves the counter less harms no figure.
HARMLESS_CYCLES = 100.0
SURE_ENOUGH = 0.9
# One reading in a hundred with a digit too few or too many.
MISCOUNTED_SHARE = 0.01


def claims(effort: Effort) -> list[Claim]:
    """Judge all readings of several fleets and compare with what was put in."""
    counts = np.sum([tally(seed) for seed in range(21, 21 + effort.runs(4))], axis=0)
    flagged, rightly, harmful, found, good, false, offered, right = counts.tolist()
    more = np.sum([miscounted(seed) for seed in range(21, 21 + effort.runs(2))], axis=0)
    missed, caught, named, given, true = more.tolist()
    return [
        Claim(GROUP, "digits left out or doubled that are flagged", caught / missed, lowest=0.92),
        Claim(GROUP, "of these, those named so", named / caught, lowest=0.60),
        Claim(GROUP, "values offered for these that are the true ones", true / given, lowest=0.90),
        Claim(GROUP, "flagged readings that are slips", rightly / flagged, lowest=0.88),
        Claim(GROUP, "harmful slips that are flagged", found / harmful, lowest=0.92),
        Claim(GROUP, "good readings that are flagged", false / good, highest=0.006),
        Claim(GROUP, "offered values that are the true ones", right / offered, lowest=0.90),
    ]


def tally(seed: int) -> np.ndarray:
    """Flagged, rightly so; harmful, found; good, flagged all the same; offered, right."""
    fleet = make_fleet(FleetPlan(DOORS, DAYS, seed, readings_per_door=36))
    followed = follow(fleet, DAYS)
    judged, wrong = followed.judgement, fleet.cause > 0
    flagged = judged.held | judged.estimated | (judged.cause == Cause.ROLLOVER)
    harmful = _harmful(fleet, np.nan_to_num(judged.mean), judged.variance)
    offered = judged.held & (judged.suggested_probability > SURE_ENOUGH)
    right = judged.suggested_value == fleet.true_value
    good = ~wrong & ~_after_unrecorded(fleet)
    pairs = ((flagged, wrong), (harmful, flagged), (good, flagged), (offered, right))
    return np.array([each for a, b in pairs for each in (a.sum(), (a & b).sum())])


def miscounted(seed: int) -> np.ndarray:
    """Digits left out or doubled: harmful, flagged, named so; values offered for them, right."""
    fleet = make_fleet(FleetPlan(DOORS, DAYS, seed, readings_per_door=36))
    shown, spoilt = _with_digits_miscounted(fleet, np.random.default_rng([45, seed]))
    fleet = replace(fleet, readings=replace(fleet.readings, value=shown))
    judged = follow(fleet, DAYS).judgement
    mean = np.nan_to_num(judged.mean)
    away = np.abs(shown - fleet.true_value)
    limit = np.maximum(HARMLESS_CYCLES, 2 * np.sqrt(np.minimum(judged.variance, 1.0)) * mean)
    harmful = spoilt & (away > limit)
    caught = harmful & (judged.held | judged.estimated)
    named = caught & (judged.cause == Cause.DIGITS_MISCOUNTED)
    offered = caught & judged.held & (judged.suggested_probability > SURE_ENOUGH)
    right = offered & (judged.suggested_value == fleet.true_value)
    return np.array([each.sum() for each in (harmful, caught, named, offered, right)])


def _with_digits_miscounted(
    fleet: MadeFleet, rng: np.random.Generator
) -> tuple[np.ndarray, np.ndarray]:
    """Values shown, some good ones with a digit left out or written twice, and which these are."""
    shown = fleet.readings.value.copy()
    good = (fleet.cause == 0) & (shown >= 1_000) & (rng.random(len(shown)) < MISCOUNTED_SHARE)
    modulus = fleet.doors.modulus[fleet.readings.door()]
    for row in np.flatnonzero(good).tolist():
        text = str(int(shown[row]))
        at = int(rng.integers(len(text)))
        twice = float(text[:at] + text[at] + text[at:])
        left_out = float(text[:at] + text[at + 1 :])
        shown[row] = twice if rng.random() < 0.5 and twice < modulus[row] else left_out
    return shown, shown != fleet.readings.value


def _harmful(fleet: MadeFleet, mean: np.ndarray, variance: np.ndarray) -> np.ndarray:
    """Slips large enough to bend a figure."""
    away = np.abs(fleet.readings.value - fleet.true_value)
    spread = 2 * np.sqrt(np.minimum(variance, 1.0)) * mean
    large = away > np.maximum(HARMLESS_CYCLES, spread)
    always = np.isin(fleet.cause, (ROLLOVER, EXCHANGE))
    stuck = (fleet.cause == STUCK) & (mean > HARMLESS_CYCLES)
    return (fleet.cause > 0) & (always | (large & (fleet.cause != STUCK)) | stuck)


def _after_unrecorded(fleet: MadeFleet) -> np.ndarray:
    """Readings that follow an exchange nobody recorded, until it is settled by the next."""
    after = np.zeros(len(fleet.cause), bool)
    rows = np.flatnonzero(fleet.cause == CAUSES.index("exchange"))
    after[np.minimum(rows + 1, len(after) - 1)] = True
    return after
