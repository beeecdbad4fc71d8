"""Seeded lives with known truth."""

import numpy as np

from analytics.kernel.lifetimes import Lifetimes


def watched_lives(seed: int, count: int, shape: float = 1.5, scale: float = 40_000.0) -> Lifetimes:
    """New parts, a third watched from a later age only, suspended at even ages."""
    rng = np.random.default_rng(seed)
    life = scale * rng.weibull(shape, count)
    end = rng.uniform(0.1, 1.5, count) * scale
    entry = np.where(rng.random(count) < 0.35, rng.uniform(0, 0.6 * scale, count), 0.0)
    age = np.minimum(life, end)
    seen = age > entry
    return Lifetimes.from_ages(age[seen], (life <= end)[seen], entry[seen])


def renewal_lives(seed: int, sockets: int, shape: float, scale: float = 40_000.0) -> Lifetimes:
    """Sockets renewed at each failure, their record beginning part way through a life."""
    rng = np.random.default_rng(seed)
    ages, failed, entries = [], [], []
    for _ in range(sockets):
        start, end = rng.uniform(0, 2 * scale), 0.0
        end = start + 1.2 * scale
        fitted = 0.0
        while fitted < end:
            dies = fitted + scale * rng.weibull(shape)
            if dies > start:
                ages.append(min(dies, end) - fitted)
                failed.append(dies <= end)
                entries.append(max(start - fitted, 0.0))
            fitted = dies
    return Lifetimes.from_ages(ages, failed, entries)
