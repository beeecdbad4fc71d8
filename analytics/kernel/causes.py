"""Named causes of a counter value that does not fit, and how likely each is."""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum

import numpy as np
from scipy.special import gammaln

from analytics.kernel.effective_days import Floats, Ints
from analytics.kernel.exposure import Codes


class Cause(IntEnum):
    """What a counter value may be."""

    OK = 0
    ROLLOVER = 1
    COUNTER_EXCHANGE = 2
    DIGITS_SWAPPED = 3
    DIGIT_MISREAD = 4
    WRONG_TRUCK = 5
    UNCHANGED = 6
    UNEXPLAINED = 7
    DIGITS_MISCOUNTED = 8
    RULED = 9


_WIDE_SHARE = 0.03  # of increments come from a spread three times as wide
_WIDE_FACTOR = 9.0
_MOST_DIGITS = 12


@dataclass(frozen=True)
class CauseShares:
    """How often each cause is met among readings, before anything is looked at.

    Parameters
    ----------
    ok, counter_exchange, digits_swapped, digit_misread, digits_miscounted, wrong_truck,
    unchanged, unexplained :
        shares in 0..1; replace them by a depot's own confirmed ones once known

    Notes
    -----
    A rollover needs no share of its own: a counter that passes its highest value does so with
    certainty, so the same increment explains the value with the share of ``ok``.
    Sizes: entry errors of 1 to 4 % per value keyed by hand are reported; weak evidence.
    """

    ok: float = 0.959
    counter_exchange: float = 0.006
    digits_swapped: float = 0.006
    digit_misread: float = 0.009
    digits_miscounted: float = 0.003
    wrong_truck: float = 0.006
    unchanged: float = 0.004
    unexplained: float = 0.007


@dataclass(frozen=True)
class Expected:
    """What a counter is expected to have moved since a base value.

    Parameters
    ----------
    base : (k,) counts shown at the base
    mean : (k,) counts expected since, above 0
    variance : (k,) squared coefficient of variation of that increment, above 0
    modulus : (k,) counts
    effective_days : (k,) since the base
    """

    base: Floats
    mean: Floats
    variance: Floats
    modulus: Floats
    effective_days: Floats

    def rows(self, chosen: Ints) -> Expected:
        """Return the chosen rows."""
        return Expected(
            self.base[chosen],
            self.mean[chosen],
            self.variance[chosen],
            self.modulus[chosen],
            self.effective_days[chosen],
        )


@dataclass(frozen=True)
class Verdict:
    """Causes of suspicious readings, weighed.

    Parameters
    ----------
    chance : (k, 9) posterior probability of each `Cause` but RULED; rows sum to 1
    turns : (k,) times the counter passed its highest value, if ROLLOVER
    suggestion : (k,) counts, the likeliest intended value; nan where there is none
    suggestion_chance : (k,) its posterior probability
    """

    chance: Floats
    turns: Floats
    suggestion: Floats
    suggestion_chance: Floats

    def rows(self, chosen: Ints) -> Verdict:
        """Return the chosen rows."""
        return Verdict(
            self.chance[chosen],
            self.turns[chosen],
            self.suggestion[chosen],
            self.suggestion_chance[chosen],
        )

    def cause(self, excluded: tuple[Cause, ...] = ()) -> Codes:
        """Return the likeliest cause of each row, some excluded."""
        weights = self.chance.copy()
        weights[:, list(excluded)] = -1.0
        return np.argmax(weights, axis=1).astype(np.int8)


@dataclass(frozen=True)
class Density:
    """Density of increments: a gamma core and a share of wider ones.

    Parameters
    ----------
    mean : (k,) counts
    core, wide : (k,) gamma shapes
    core_scale, wide_scale : (k,) log of the normalising factors, weights included
    """

    mean: Floats
    core: Floats
    wide: Floats
    core_scale: Floats
    wide_scale: Floats

    @classmethod
    def of(cls, expected: Expected) -> Density:
        """Prepare the density of increments around an expectation."""
        core = 1.0 / expected.variance
        wide = core / _WIDE_FACTOR
        log_mean = np.log(expected.mean)

        def scale(shape: Floats, share: float) -> Floats:
            return np.log(share) + shape * (np.log(shape) - log_mean) - gammaln(shape)

        return cls(
            expected.mean,
            core,
            wide,
            scale(core, 1.0 - _WIDE_SHARE),
            scale(wide, _WIDE_SHARE),
        )

    def at(self, increment: Floats) -> Floats:
        """Return the density at increments (k,) or (k, c), per count; 0 below nothing moved."""
        shape = (slice(None),) + (None,) * (increment.ndim - 1)
        mean, core, wide = self.mean[shape], self.core[shape], self.wide[shape]
        moved = np.maximum(increment, 0.0) + 0.5
        log_moved = np.log(moved)
        ratio = moved / mean
        density = np.exp(self.core_scale[shape] + (core - 1.0) * log_moved - core * ratio)
        density += np.exp(self.wide_scale[shape] + (wide - 1.0) * log_moved - wide * ratio)
        return np.where(increment >= 0, density, 0.0)

    def peak(self) -> Floats:
        """Return a bound that the density nowhere exceeds."""
        bound = np.zeros_like(self.mean)
        for shape, scale in ((self.core, self.core_scale), (self.wide, self.wide_scale)):
            top = np.maximum((shape - 1.0) / shape * self.mean, 0.5)
            bound += np.exp(scale + (shape - 1.0) * np.log(top) - shape * top / self.mean)
        return bound


def rollover_turns(expected: Expected, value: Floats) -> Floats:
    """Return how many times the counter must have started again from 0, at the least surprise.

    Parameters
    ----------
    expected : Expected, (k,)
    value : (k,) counts read

    Returns
    -------
    (k,) whole turns; 0 where the value is not below the base and no whole turn was expected
    """
    moved = value - expected.base
    likeliest = np.rint((expected.mean - moved) / expected.modulus)
    return np.where(moved < 0, np.maximum(likeliest, 1.0), np.maximum(likeliest, 0.0))


def other_causes_bound(
    expected: Expected, density: Density, value: Floats, shares: CauseShares, truck_density: float
) -> Floats:
    """Return a bound on the joint weight of all causes other than an ordinary increment.

    Parameters
    ----------
    expected : Expected, (k,)
    density : Density of it
    value : (k,) counts read
    shares : CauseShares
    truck_density : the highest density a neighbour's counter can give to a value

    Returns
    -------
    (k,) per count

    Notes
    -----
    Serves the first screen: a reading whose ordinary explanation outweighs this bound needs no
    closer look, and the rest of the work is done for a few in a hundred.
    """
    share = shares.digits_swapped + shares.digit_misread + shares.digits_miscounted
    slips = share * density.peak()
    same = np.where(value == expected.base, 0.98 * shares.unchanged, 0.0)
    return (
        slips
        + shares.wrong_truck * truck_density
        + shares.counter_exchange * _exchange_density(expected, value)
        + same
        + shares.unexplained / expected.modulus
    )


def _exchange_density(expected: Expected, value: Floats) -> Floats:
    """Return the density of values after an exchange nobody wrote down: mostly a new counter."""
    reach = expected.mean * (1.0 + 3.0 * np.sqrt(expected.variance))
    young = np.where(value <= reach, 0.8 / np.maximum(reach, 1.0), 0.0)
    return young + 0.2 / expected.modulus


def _digits(modulus: Floats) -> int:
    """Return the digits of the longest counter, at least 2."""
    return int(np.clip(np.rint(np.log10(modulus.max(initial=100.0))), 2, _MOST_DIGITS))


def intended_values(value: Floats, modulus: Floats) -> Floats:
    """Return the values that one slip could have turned into each value read.

    Parameters
    ----------
    value : (k,) whole counts read
    modulus : (k,) powers of ten

    Returns
    -------
    (k, d - 1 + 10 d + 11 d) counts for a counter of at most d digits; first the swaps of
    neighbouring digits, then one other digit at each place, then one digit more at each place and
    one of two equal neighbours less; nan where that is no slip
    """
    powers: Floats = 10.0 ** np.arange(_digits(modulus) + 1.0)
    digit = np.floor(value[:, None] / powers[:-1]) % 10.0
    inside = powers[:-1] < modulus[:, None]
    low, high = digit[:, :-1], digit[:, 1:]
    swapped = value[:, None] + (high - low) * (powers[:-2] - powers[1:-1])
    swapped[(low == high) | ~inside[:, 1:]] = np.nan
    change = np.arange(10.0) - digit[:, :, None]
    misread = value[:, None, None] + change * powers[:-1, None]
    misread[(change == 0) | ~inside[:, :, None]] = np.nan
    longer, shorter = _miscounted(value, digit, powers, modulus)
    return np.concatenate((swapped, misread.reshape(len(value), -1), longer, shorter), axis=1)


def _miscounted(
    value: Floats, digit: Floats, powers: Floats, modulus: Floats
) -> tuple[Floats, Floats]:
    """Values with one digit more, (k, 10 d), and with one of two equal neighbours less, (k, d)."""
    at = powers[:-1]
    above, below = np.floor(value[:, None] / at), value[:, None] % at
    begins = above == 0  # left of the first digit written
    before = np.concatenate((np.zeros((len(value), 1), bool), begins[:, :-1]), axis=1)
    inserted = np.arange(10.0)
    longer = (above * 10.0 * at + below)[:, :, None] + inserted * at[:, None]
    # Beside an equal digit the same value comes twice; a digit far left of the others is none.
    twice = (inserted == digit[:, :, None]) | before[:, :, None]
    longer[twice | (longer >= modulus[:, None, None])] = np.nan
    upper = np.concatenate((digit[:, 1:], np.full((len(value), 1), -1.0)), axis=1)
    lower = np.concatenate((np.full((len(value), 1), -1.0), digit[:, :-1]), axis=1)
    doubled = (digit == upper) & (digit != lower) & (above >= 10)
    shorter = np.floor(above / 10.0) * at + below
    shorter[~doubled] = np.nan
    return longer.reshape(len(value), -1), shorter


def weigh_causes(
    expected: Expected, value: Floats, truck_density: Floats, shares: CauseShares
) -> Verdict:
    """Weigh the named causes of values against each other.

    Parameters
    ----------
    expected : Expected, (k,)
    value : (k,) counts read
    truck_density : (k,) density of the value on the counters of the depot's other doors
    shares : CauseShares

    Returns
    -------
    Verdict

    Notes
    -----
    Posterior = share × likelihood, scaled to 1. Likelihoods: OK and ROLLOVER the density of the
    increment; exchange mostly uniform over what a new counter can show; swapped, misread and
    miscounted the mean density over the values that one slip could have spoilt; unchanged 0.98 on
    the base value; unexplained uniform over the counter.
    """
    density = Density.of(expected)
    moved = value - expected.base
    turns = rollover_turns(expected, value)
    turned = np.where(turns > 0, density.at(moved + turns * expected.modulus), 0.0)
    intended = intended_values(value, expected.modulus)
    parts = _slip_columns(_digits(expected.modulus))
    slips = _weigh_slips(expected, density, intended, parts, shares)
    waited = expected.effective_days >= 1.0
    weight = np.stack(
        [
            shares.ok * density.at(moved),
            shares.ok * turned,
            shares.counter_exchange * _exchange_density(expected, value),
            slips[:, parts[0]].sum(axis=1),
            slips[:, parts[1]].sum(axis=1),
            shares.wrong_truck * truck_density,
            np.where(waited & (moved == 0), 0.98 * shares.unchanged, 0.0),
            shares.unexplained / expected.modulus,
            slips[:, parts[2]].sum(axis=1),
        ],
        axis=1,
    )
    total = weight.sum(axis=1)
    best = np.argmax(slips, axis=1)
    each = np.arange(len(value))
    suggestion = np.where(slips[each, best] > 0, intended[each, best], np.nan)
    return Verdict(weight / total[:, None], turns, suggestion, slips[each, best] / total)


def _slip_columns(digits: int) -> tuple[slice, ...]:
    """Columns of `intended_values` by slip: swapped, misread, miscounted."""
    swaps, misreads = digits - 1, 10 * digits
    return slice(swaps), slice(swaps, swaps + misreads), slice(swaps + misreads, None)


def _weigh_slips(
    expected: Expected,
    density: Density,
    intended: Floats,
    parts: tuple[slice, ...],
    shares: CauseShares,
) -> Floats:
    """Return the joint weight of each intended value, shaped as these."""
    possible = np.isfinite(intended)
    step = np.where(possible, intended - expected.base[:, None], -1.0)
    weight = density.at(np.where(step < 0, step + expected.modulus[:, None], step))
    weight[~possible] = 0.0
    of_slip = (shares.digits_swapped, shares.digit_misread, shares.digits_miscounted)
    for part, share in zip(parts, of_slip, strict=True):
        weight[:, part] *= share / np.maximum(possible[:, part].sum(axis=1, keepdims=True), 1)
    return weight
