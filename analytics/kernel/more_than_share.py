"""Doors that fail more than their share, told apart from bad luck."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.optimize import minimize
from scipy.special import expit, gammainc, gammaincinv, gammaln

from analytics.kernel.lifetimes import NotEstimableError

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]
IntArray = NDArray[np.int64]

MUCH_MORE = 2.0
LARGEST_FALSE_SHARE = 0.20
DOORS_FOR_GRID = 300
# A prior of any form follows chance better than a gamma by one to two units of log-likelihood
# in fleets that a gamma describes truly.
GRID_HANDICAP = 2.0
GRID_POINTS = 60
GRID_STEPS = 400
# A gamma prior this sharp says that every door fails at the fleet's rate.
SHARPEST = 1e4


@dataclass(frozen=True, eq=False)
class ShareRanking:
    """Failure ratio of each door to its expectation; see `rank_by_share` for every field."""

    ratio_mean: FloatArray
    ratio_lower: FloatArray
    ratio_upper: FloatArray
    chance_above: FloatArray
    listed: BoolArray
    order: IntArray
    false_share: float
    prior: str


def rank_by_share(failures: ArrayLike, expected: ArrayLike) -> ShareRanking:
    """Judge each door's failures against what its cycles and class lead one to expect.

    Parameters
    ----------
    failures : array_like, shape (n,), >= 0
        Failures of each door, repeats of one repair already collapsed.
    expected : array_like, shape (n,), >= 0
        Failures expected of it: its cycles times the rate of its model, route kind and age
        band.

    Returns
    -------
    ShareRanking
        `ratio_mean`, `ratio_lower`, `ratio_upper` (n,): mean and 90 % range of the door's rate
        over its expectation; `chance_above` (n,): chance that it is above 2; `listed` (n,);
        `order` (n,): doors from the highest chance down; `false_share`: expected share of
        listed doors that are not above 2; `prior` is ``grid`` from 300 doors on, else ``mixed``.

    Raises
    ------
    NotEstimableError
        If there is only one door, or nothing was expected of any.
    ValueError
        If lengths differ or a value is negative or not finite.

    Notes
    -----
    How much doors differ is learned from all of them first (prior of the ratio), so that a door
    with few cycles is not ranked by chance. From 300 doors on the prior may have any form; below,
    such a prior and a gamma are mixed by how well each foretells the failures, the free one with
    a handicap of 2 units of log-likelihood: a gamma alone hides the few bad doors of a small
    fleet, a free one alone accuses by chance. The list is the longest head of the order whose
    mean chance of being wrong is at most 20 %; among equal doors it is empty.

    Examples
    --------
    >>> found = rank_by_share([0, 1, 12, 1, 0, 2, 1, 0], [1.0] * 8)
    >>> np.flatnonzero(found.listed).tolist()
    [2]
    """
    y = np.atleast_1d(np.asarray(failures, dtype=float))
    e = np.atleast_1d(np.asarray(expected, dtype=float))
    _check(y, e)
    judged = _by_grid(y, e) if len(y) >= DOORS_FOR_GRID else _mixed(y, e)
    order = np.lexsort((-judged.ratio_mean, -judged.chance_above))
    wrong = np.cumsum(1 - judged.chance_above[order]) / np.arange(1, len(y) + 1)
    length = int((wrong <= LARGEST_FALSE_SHARE).sum())
    listed = np.zeros(len(y), dtype=bool)
    listed[order[:length]] = True
    return ShareRanking(
        judged.ratio_mean,
        judged.ratio_lower,
        judged.ratio_upper,
        judged.chance_above,
        listed,
        order,
        float(wrong[length - 1]) if length else 0.0,
        judged.prior,
    )


def first_of_repeats(group: ArrayLike, day: ArrayLike, within_days: float = 14.0) -> BoolArray:
    """Keep one failure of each run of repeats.

    Parameters
    ----------
    group : array_like of int, shape (n,)
        Number that is equal for failures of one door with one symptom.
    day : array_like, shape (n,), days
        Day of the failure on any common scale.
    within_days : float, days, >= 0
        A failure so soon after another of its group is a repeat of it.

    Returns
    -------
    ndarray of bool, shape (n,)
        True for the failures to count, in the order given.

    Raises
    ------
    ValueError
        If lengths differ or within_days is negative.

    Examples
    --------
    >>> first_of_repeats([1, 1, 1, 2], [0, 10, 60, 5]).tolist()
    [True, False, True, True]
    """
    key, when = np.atleast_1d(np.asarray(group)), np.atleast_1d(np.asarray(day, dtype=float))
    if key.shape != when.shape:
        raise ValueError(f"{key.shape} groups do not match {when.shape} days")
    if not within_days >= 0:
        raise ValueError(f"within_days must be 0 or more, got {within_days:g}")
    order = np.lexsort((when, key))
    repeat = np.zeros(len(key), dtype=bool)
    same = key[order][1:] == key[order][:-1]
    repeat[order[1:]] = same & (np.diff(when[order]) <= within_days)
    return ~repeat


@dataclass(frozen=True, eq=False)
class _Judged:
    ratio_mean: FloatArray
    ratio_lower: FloatArray
    ratio_upper: FloatArray
    chance_above: FloatArray
    prior: str
    log_likelihood: float


def _check(y: FloatArray, e: FloatArray) -> None:
    if y.shape != e.shape:
        raise ValueError(f"{y.shape} failures do not match {e.shape} expectations")
    for name, values in (("failures", y), ("expected", e)):
        if not ((values >= 0) & np.isfinite(values)).all():
            raise ValueError(f"{name} must be 0 or more and finite, got {values.min():g}")
    if len(y) < 2:
        raise NotEstimableError("One door cannot be compared with itself.")
    if e.sum() == 0:
        raise NotEstimableError("Nothing was expected to fail, so no share can be given.")


def _mixed(y: FloatArray, e: FloatArray) -> _Judged:
    """Both priors, weighed by their likelihood; the range is that of the weightier one."""
    gamma, grid = _by_gamma(y, e), _by_grid(y, e)
    ahead = grid.log_likelihood - gamma.log_likelihood - GRID_HANDICAP
    share = float(expit(ahead))
    nearer = grid if share > 0.5 else gamma
    return _Judged(
        share * grid.ratio_mean + (1 - share) * gamma.ratio_mean,
        nearer.ratio_lower,
        nearer.ratio_upper,
        share * grid.chance_above + (1 - share) * gamma.chance_above,
        "mixed",
        max(gamma.log_likelihood, grid.log_likelihood),
    )


def _by_gamma(y: FloatArray, e: FloatArray) -> _Judged:
    """Gamma prior by the negative-binomial likelihood of all doors."""

    def loss(logs: FloatArray) -> float:
        a, mean = np.exp(logs)
        b = a / mean
        each = gammaln(a + y) - gammaln(a) + a * np.log(b) - (a + y) * np.log(b + e)
        return -float(each.sum())

    overall = max(y.sum(), 0.5) / e.sum()
    limits = [(np.log(0.02), np.log(SHARPEST)), (np.log(overall / 20), np.log(overall * 20))]
    starts = ([np.log(size), np.log(overall)] for size in (0.5, 5.0, 500.0))
    fits = [minimize(loss, start, method="L-BFGS-B", bounds=limits) for start in starts]
    best = min(fits, key=lambda fit: fit.fun)
    a, mean = np.exp(best.x)
    size, pace = a + y, a / mean + e
    return _Judged(
        size / pace,
        gammaincinv(size, 0.05) / pace,
        gammaincinv(size, 0.95) / pace,
        1 - gammainc(size, MUCH_MORE * pace),
        "gamma",
        -float(best.fun),
    )


def _by_grid(y: FloatArray, e: FloatArray) -> _Judged:
    """Prior of any form on 60 ratios, by expectation and maximisation.

    Bad actors that are a separate minority keep a hump of their own, which a gamma cannot.
    """
    # Half as much again leaves room above the door that failed most.
    highest = max(10.0, 1.5 * float(np.max((y + 1) / (e + 1))))
    ratio = np.geomspace(0.05, highest, GRID_POINTS)
    weights = _grid_prior(y, e, ratio)
    posterior = _grid_likelihood(y, e, ratio) * weights
    total = posterior.sum(axis=1, keepdims=True)
    posterior /= total
    reached = np.cumsum(posterior, axis=1)
    return _Judged(
        posterior @ ratio,
        ratio[(reached < 0.05).sum(axis=1)],
        ratio[np.minimum((reached < 0.95).sum(axis=1), GRID_POINTS - 1)],
        posterior @ (ratio > MUCH_MORE).astype(float),
        "grid",
        float(np.log(total).sum() + _highest_logs(y, e, ratio).sum()),
    )


def _grid_prior(y: FloatArray, e: FloatArray, ratio: FloatArray) -> FloatArray:
    """Weights of the ratios; expectations within 1 % of each other are taken as equal here."""
    rounded = np.where(e > 0, np.exp(np.round(np.log(np.maximum(e, 1e-300)), 2)), 0.0)
    pairs, counts = np.unique(np.stack([y, rounded], axis=1), axis=0, return_counts=True)
    likelihood = _grid_likelihood(pairs[:, 0], pairs[:, 1], ratio)
    weights = np.full(GRID_POINTS, 1 / GRID_POINTS)
    for _ in range(GRID_STEPS):
        following = weights * ((counts / (likelihood @ weights)) @ likelihood) / counts.sum()
        settled = np.abs(following - weights).max() < 1e-7
        weights = following
        if settled:
            break
    return weights


def _grid_likelihood(y: FloatArray, e: FloatArray, ratio: FloatArray) -> FloatArray:
    logs = y[:, None] * np.log(ratio) - e[:, None] * ratio
    return np.exp(logs - _highest_logs(y, e, ratio)[:, None])


def _highest_logs(y: FloatArray, e: FloatArray, ratio: FloatArray) -> FloatArray:
    """Log likelihood of each door at the ratio of the grid that suits it best."""
    logs = y[:, None] * np.log(ratio) - e[:, None] * ratio
    return np.asarray(logs.max(axis=1))
