"""Lives: ranges hold the truth, late records do not bend them, bad fits are told."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analytics.kernel.goodness_of_fit import check_fit
from analytics.kernel.lifetimes import Lifetimes
from analytics.kernel.posterior import weibull_posterior
from analytics.kernel.survival import product_limit
from analytics.kernel.weibull import fit_weibull, life_quantile
from analytics.proof.claim import COVER_90, Claim, Effort, share_inside

GROUP = "lives"
SCALE = 40_000.0
# Shape and sockets: from a handful of failures to some hundred.
CASES = ((1.0, 12), (1.0, 60), (2.0, 10), (2.0, 20), (2.0, 250), (3.0, 20))
FEWEST_FAILURES = 5
# By likelihood alone small samples promise too much: there the posterior speaks.
SOCKETS_FOR_LIKELIHOOD = 20


@dataclass(frozen=True)
class Covers:
    """Share of runs whose range holds the truth: shape, B10, survival at the median life."""

    shape: float
    b10: float
    survival: float


def claims(effort: Effort) -> list[Claim]:
    """Cover of every printed range, and what is claimed of records that begin late."""
    found = []
    for shape, sockets in CASES:
        cover = covers(shape, sockets, effort.runs(600, 300))
        of = f"shape {shape:g}, {sockets} sockets"
        found.append(Claim(GROUP, f"90 % range of the shape: {of}", cover.shape, *COVER_90))
        found.append(Claim(GROUP, f"90 % range of B10: {of}", cover.b10, *COVER_90))
        found.append(Claim(GROUP, f"90 % band of survival: {of}", cover.survival, *COVER_90))
        if sockets >= SOCKETS_FOR_LIKELIHOOD:
            shape_cover, b10_cover = likelihood_covers(shape, sockets, effort.runs(300, 150))
            said = f"90 % range by likelihood alone: {of}"
            found.append(Claim(GROUP, f"{said}, shape", shape_cover, *COVER_90))
            found.append(Claim(GROUP, f"{said}, B10", b10_cover, *COVER_90))
    late = late_record_scale(effort.runs(40, 10))
    wrongly, rightly = fit_verdicts(effort.runs(400, 120))
    return [
        *found,
        Claim(GROUP, "scale over truth when records begin late", late, 0.95, 1.05),
        Claim(GROUP, "true Weibull lives said not to fit (5 % level)", wrongly, highest=0.08),
        Claim(GROUP, "mixed early failures said not to fit", rightly, lowest=0.8),
    ]


def covers(shape: float, sockets: int, runs: int) -> Covers:
    """Simulate sockets watched for a while, at random ages, with renewals."""
    truth = float(life_quantile(0.1, shape, SCALE))
    middle = float(life_quantile(0.5, shape, SCALE))
    rows = []
    for seed in range(runs):
        lives = watched(seed, shape, sockets)
        if lives.failures < FEWEST_FAILURES:
            continue
        summary = weibull_posterior(lives).summary()
        curve = product_limit(lives)
        at = int(np.searchsorted(curve.at_cycles, middle, side="right")) - 1
        rows.append(
            (
                (summary.shape_lower, shape, summary.shape_upper),
                (summary.b10_lower_cycles, truth, summary.b10_upper_cycles),
                (curve.lower[at], 0.5, curve.upper[at]) if at >= 0 else (0.0, 0.5, 1.0),
            )
        )
    shares = [share_inside(*zip(*(row[k] for row in rows), strict=True)) for k in range(3)]
    return Covers(*shares)


def likelihood_covers(shape: float, sockets: int, runs: int) -> tuple[float, float]:
    """The same of shape and B10, of maximum likelihood with its standard errors."""
    truth = float(life_quantile(0.1, shape, SCALE))
    lives = [watched(seed, shape, sockets) for seed in range(runs)]
    fits = [fit_weibull(each) for each in lives if each.failures >= FEWEST_FAILURES]
    of_shape = [fit.shape_lower <= shape <= fit.shape_upper for fit in fits]
    of_b10 = [fit.b10_lower_cycles <= truth <= fit.b10_upper_cycles for fit in fits]
    return float(np.mean(of_shape)), float(np.mean(of_b10))


def watched(seed: int, shape: float, sockets: int) -> Lifetimes:
    """Lives in sockets watched over 1.2 scales from a random age on, renewed at each failure."""
    rng = np.random.default_rng([51, seed, sockets])
    ages: list[float] = []
    failed: list[bool] = []
    entries: list[float] = []
    for _ in range(sockets):
        start, fitted = rng.uniform(0, 2 * SCALE), 0.0
        end = start + 0.8 * SCALE
        while fitted < end:
            dies = fitted + SCALE * rng.weibull(shape)
            if dies > start:
                ages.append(min(dies, end) - fitted)
                failed.append(dies <= end)
                entries.append(max(start - fitted, 0.0))
            fitted = dies
    return Lifetimes.from_ages(ages, failed, entries)


def late_record_scale(runs: int) -> float:
    """Mean of the fitted scale over the true one, shape 3, 200 sockets."""
    fits = [fit_weibull(watched(seed, 3.0, 200)) for seed in range(runs)]
    return float(np.mean([fit.scale_cycles for fit in fits])) / SCALE


def fit_verdicts(runs: int) -> tuple[float, float]:
    """Share of samples refused at the 5 % level: true Weibull lives, and a mixture."""
    refused: tuple[list[bool], list[bool]] = ([], [])
    for seed in range(runs):
        rng = np.random.default_rng([52, seed])
        end = rng.uniform(0.3, 1.5, 300) * SCALE
        plain = SCALE * rng.weibull(2.0, 300)
        early = np.where(rng.random(300) < 0.15, 0.1 * SCALE * rng.weibull(0.8, 300), plain)
        for life, verdicts in zip((plain, early), refused, strict=True):
            lives = Lifetimes.from_ages(np.minimum(life, end), life <= end)
            fit = fit_weibull(lives)
            p = check_fit(lives, fit.shape, fit.scale_cycles).p
            verdicts.append(p is not None and p < 0.05)
    return float(np.mean(refused[0])), float(np.mean(refused[1]))
