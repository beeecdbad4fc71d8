"""Weibull log-likelihood of any mix of lives, with first and second derivatives."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analytics.kernel.lifetimes import Lifetimes

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Curvature:
    """Log-likelihood, gradient (2,) and second derivatives (2, 2) in (shape, ln scale)."""

    loglik: float
    gradient: FloatArray
    hessian: FloatArray


def weibull_curvature(lives: Lifetimes, shape: float, log_scale: float) -> Curvature:
    """Log-likelihood with its derivatives.

    Parameters
    ----------
    lives : Lifetimes
        Lives in cycles, exact, between readings or suspended, with any entry ages.
    shape : float, > 0
        Weibull shape.
    log_scale : float
        Natural logarithm of the scale in cycles.

    Returns
    -------
    Curvature
        Value, gradient and second derivatives in (shape, ln scale).

    Notes
    -----
    A failure between readings adds ln(1 - exp(-D)) with D the rise of the cumulative hazard;
    its derivatives are 1/(exp(D) - 1) and minus that times one plus that.
    """
    exact, between, weights = lives.exact, lives.between, lives.weights
    failed = weights[exact]
    events = failed.sum()
    log_z = np.log(lives.lo_cycles[exact]) - log_scale
    value = events * (np.log(shape) - log_scale) + (shape - 1) * (failed @ log_z)
    # The density per cycle holds 1/scale once: its part is the -log_scale above.
    gradient = np.array([events / shape + failed @ log_z, -shape * events])
    hessian = np.array([[-events / shape**2, -events], [-events, 0.0]])
    parts = [(lives.lo_cycles, -weights), (lives.entry_cycles, weights)]
    for ages, sign in parts:
        terms = _hazard_terms(ages, shape, log_scale)
        value += sign @ terms[0]
        gradient = gradient + terms[1:3] @ sign
        hessian = hessian + _square(terms[3:] @ sign)
    if between.any():
        low = _hazard_terms(lives.lo_cycles[between], shape, log_scale)
        rise = _hazard_terms(lives.hi_cycles[between], shape, log_scale) - low
        gap = np.maximum(rise[0], 1e-300)
        odds = weights[between] / np.expm1(np.minimum(gap, 700.0))
        bend = -odds * (1 + odds / weights[between])
        value += weights[between] @ np.log(-np.expm1(-gap))
        gradient = gradient + rise[1:3] @ odds
        hessian = hessian + _square(rise[3:] @ odds) + (rise[1:3] * bend) @ rise[1:3].T
    return Curvature(float(value), gradient, hessian)


def _square(three: FloatArray) -> FloatArray:
    return three[[[0, 1], [1, 2]]]


def _hazard_terms(ages: FloatArray, shape: float, log_scale: float) -> FloatArray:
    """H and its derivatives (shape; ln scale; shape twice; mixed; ln scale twice), rows of 6."""
    log_z = np.where(ages > 0, np.log(np.maximum(ages, 1e-300)) - log_scale, 0.0)
    # Cut off where it would overflow: such a point is far from any optimum.
    hazard = np.where(ages > 0, np.exp(np.minimum(shape * log_z, 600.0)), 0.0)
    weighted = hazard * log_z
    mixed = -hazard - shape * weighted
    return np.stack([hazard, weighted, -shape * hazard, weighted * log_z, mixed, shape**2 * hazard])
