"""Answers that others have printed, at the digits they printed; more of them stand in the tests."""

from __future__ import annotations

import numpy as np

from analytics.kernel.compound_poisson import compound_poisson_pmf
from analytics.kernel.demand_history import croston
from analytics.kernel.intervals import best_replacement_age
from analytics.kernel.lifetimes import Lifetimes
from analytics.kernel.mcbf import estimate_mcbf
from analytics.kernel.power_law_checks import compare_slopes, cramer_von_mises, mean_at_end
from analytics.kernel.recurrence import RepairHistories
from analytics.kernel.survival import product_limit
from analytics.kernel.trend import assess_trend, fit_power_law
from analytics.kernel.weibull import fit_weibull
from analytics.proof.claim import Claim, Effort, as_printed

GROUP = "published"

# NIST/SEMATECH e-Handbook 8.4.1.3: ten failures, ten taken off at 500 hours.
NIST_FAILED, NIST_TAKEN_OFF, NIST_END = [54, 187, 216, 240, 244, 335, 361, 373, 375, 386], 10, 500
# NIST/SEMATECH e-Handbook 8.2.3.4 and 8.4.5.2: one system watched for 1,500 hours.
NIST_REPAIRS, NIST_WINDOW = [5, 40, 43, 175, 389, 712, 747, 795, 1299, 1478], 1500
# AMSAA Technical Report 138 (Crow, 1975), table 1: three systems, 200 hours each.
ARMY_REPAIRS = (
    [4.3, 4.4, 10.2, 23.5, 23.8, 26.4, 74.0, 77.1, 92.1, 197.2],
    [0.1, 5.6, 18.6, 19.5, 24.2, 26.7, 45.1, 45.8, 75.7, 79.7, 98.6, 120.1, 161.8, 180.6, 190.8],
    [8.4, 32.5, 44.7, 48.4, 50.6, 73.6, 98.7, 112.2, 129.8, 136.0, 195.8],
)
# Miller (1981), maintained arm: weeks, and whether the relapse was seen.
LEUKAEMIA_WEEKS = [9, 13, 13, 18, 23, 28, 31, 34, 45, 48, 161]
LEUKAEMIA_SEEN = [True, True, False, True, True, False, True, True, False, True, False]


def claims(_effort: Effort) -> list[Claim]:
    """Handbooks, army reports and textbooks."""
    return [*_lives(), *_repairs(), *_counts_and_stock()]


def _lives() -> list[Claim]:
    ages = [*NIST_FAILED, *[NIST_END] * NIST_TAKEN_OFF]
    failed = [True] * len(NIST_FAILED) + [False] * NIST_TAKEN_OFF
    fit = fit_weibull(Lifetimes.from_ages(ages, failed))
    curve = product_limit(Lifetimes.from_ages(LEUKAEMIA_WEEKS, LEUKAEMIA_SEEN), 0.95)
    left = float(curve.survival[-1])
    return [
        as_printed(GROUP, "NIST 8.4.1.3 Weibull shape", fit.shape, "1.7208"),
        as_printed(GROUP, "NIST 8.4.1.3 Weibull scale, hours", fit.scale_cycles, "606.528", 2),
        as_printed(GROUP, "NIST 8.4.1.3 log likelihood", fit.loglik, "-75.135"),
        as_printed(GROUP, "Miller 1981 survival after 48 weeks", left, "0.184"),
    ]


def _repairs() -> list[Claim]:
    nist = RepairHistories.from_columns([0.0], [NIST_WINDOW], [0] * len(NIST_REPAIRS), NIST_REPAIRS)
    door = [k for k, system in enumerate(ARMY_REPAIRS) for _ in system]
    ages = [age for system in ARMY_REPAIRS for age in system]
    army = RepairHistories.from_columns([0.0] * 3, [200.0] * 3, door, ages)
    reached, trend = mean_at_end(nist, 0.8), assess_trend(nist)
    chi2 = trend.chi2 if trend.chi2 is not None else np.nan
    shared = compare_slopes(army).statistic
    return [
        as_printed(GROUP, "NIST 8.2.3.4 chi-square of the trend", chi2, "37.23"),
        as_printed(GROUP, "NIST 8.4.5.2 mean at the end, hours", reached.cycles, "310.234"),
        as_printed(GROUP, "NIST 8.4.5.2 lower 80 % limit", reached.lower_cycles, "157.7138"),
        as_printed(GROUP, "NIST 8.4.5.2 upper 80 % limit", reached.upper_cycles, "548.5566"),
        as_printed(GROUP, "AMSAA TR-138 slope", fit_power_law(army).slope, "0.615"),
        # Printed cut off, not rounded.
        as_printed(GROUP, "AMSAA TR-138 distance from the law", cramer_von_mises(army), "0.069", 2),
        as_printed(GROUP, "mcotear, one slope for all three", shared, "1.762104"),
    ]


def _counts_and_stock() -> list[Claim]:
    bounds = estimate_mcbf([1.0], [1], 0.9)
    low, high = float(bounds.lower_cycles[0]), float(bounds.upper_cycles[0])
    age = best_replacement_age(2.5, 1_000.0, 1.0, 5.0)
    three = float(compound_poisson_pmf(4.0, [0.0, 0.25, 0.5, 0.25], 4)[3])
    path = croston([0, 0, 3, 0, 4, 0, 0, 0, 2, 0], 0.5, 0.2)
    return [
        as_printed(GROUP, "NIST 8.4.5.1 lower factor, one failure", low, "0.2108"),
        as_printed(GROUP, "NIST 8.4.5.1 upper factor, one failure", high, "19.4958", 2),
        as_printed(GROUP, "age replacement, cost per hour", age.cost_per_cycle, "0.0035"),
        as_printed(GROUP, "compound Poisson, chance of 3 (Kaas)", three, "0.0580"),
        as_printed(GROUP, "Croston after ten periods", float(path[-1]), "0.904605"),
    ]
