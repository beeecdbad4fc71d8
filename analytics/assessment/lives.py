"""Lives of fitted parts, and what they say about each component."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from analytics.assessment.exposure import Exposure
from analytics.assessment.shocks import Shocks, find_shocks
from analytics.datasets.columns import Flags, Floats, Ints
from analytics.datasets.fitments import End
from analytics.datasets.fleet import Fleet
from analytics.kernel.exposure import Series, bracket_cycles
from analytics.kernel.goodness_of_fit import check_fit
from analytics.kernel.lifetimes import Lifetimes, NotEstimableError
from analytics.kernel.posterior import (
    FAMILY_PRIORS,
    FamilyPrior,
    WeibullPosterior,
    weibull_posterior,
)
from analytics.kernel.weibull import WeibullFit, fit_weibull
from fleetdoors.models import ComponentKind

# Which prior speaks for a component; mechanical and electrical ones have no family of their own.
_PRIORS_BY_CODE = {"spring": "spring", "lift_cable": "cable", "coil_cable": "cable"}
_PRIORS_BY_KIND = {
    ComponentKind.ELECTRONIC.value: "electronics",
    ComponentKind.FATIGUE.value: "spring",
}


@dataclass(frozen=True)
class LifeRows:
    """One row per fitted part of known age: ages in cycles; `part` = row of the fitments."""

    part: Ints
    component_id: Ints
    lo_cycles: Floats
    hi_cycles: Floats
    entry_cycles: Floats

    def of_component(self, component_id: int) -> Lifetimes:
        """The lives of one component as the kernel takes them."""
        return self.among(self.component_id == component_id)

    def among(self, chosen: Flags) -> Lifetimes:
        """The chosen lives as the kernel takes them."""
        return Lifetimes.from_intervals(
            self.lo_cycles[chosen], self.hi_cycles[chosen], self.entry_cycles[chosen]
        )


@dataclass(frozen=True)
class RevisedLives:
    """Lives of a component by revision, the first first; `failures` and `lives` behind each.

    `of_part`: the revision of each part id on record; a part without a known number is of the
    first.
    """

    posteriors: tuple[WeibullPosterior, ...]
    of_part: dict[int, int]

    def revision_of(self, part_ids: Ints) -> Ints:
        """The revision of each fitted part."""
        found = [self.of_part.get(each, 0) for each in part_ids.tolist()]
        return np.array(found, dtype=np.int64)


@dataclass(frozen=True)
class ComponentLifeFound:
    """What is known of one component's life; None where it cannot be given, and `reason` why.

    `revised`: its revisions told apart, which demand is forecast from; None where only one is on
    record or nobody has looked.

    `shocks`: batches that one outside cause took; `apart`: the posterior with their lives taken
    as suspended, which demand is forecast from. None without a batch.
    """

    component_id: int
    code: str
    lives: Lifetimes
    fit: WeibullFit | None
    fit_p: float | None
    posterior: WeibullPosterior | None
    reason: str
    shocks: Shocks | None = None
    apart: WeibullPosterior | None = None
    revised: RevisedLives | None = None

    @property
    def of_wear(self) -> WeibullPosterior | None:
        """The posterior of what wear and chance do, batches kept apart, revisions together."""
        return self.apart or self.posterior

    @property
    def by_revision(self) -> tuple[WeibullPosterior, ...]:
        """The same by revision; one for all of them where they are not told apart."""
        if self.revised is not None:
            return self.revised.posteriors
        return () if self.of_wear is None else (self.of_wear,)

    def revision_of(self, part_ids: Ints) -> Ints:
        """Which of `by_revision` each fitted part is of."""
        if self.revised is None:
            return np.zeros(len(part_ids), dtype=np.int64)
        return self.revised.revision_of(part_ids)


def assess_lives(fleet: Fleet, series: Series, exposure: Exposure) -> LifeRows:
    """Lives of known age: failed, or suspended when taken off otherwise or at the window's end."""
    parts = fleet.fitments
    ended_lo, ended_hi = _end_cycles(fleet, series, exposure)
    lo, hi = ended_lo - parts.fitted_at_cycles, ended_hi - parts.fitted_at_cycles
    entry = np.where(
        np.isnan(parts.observed_from_cycles),
        0.0,
        parts.observed_from_cycles - parts.fitted_at_cycles,
    )
    # Nothing was seen of a life that ended as, or before, it came under observation.
    seen = ~np.isnan(lo) & (hi > 0) & (lo >= entry) & ((lo > entry) | np.isfinite(hi))
    kept = np.flatnonzero(seen)
    return LifeRows(kept, parts.component_id[kept], lo[kept], hi[kept], entry[kept])


def _end_cycles(fleet: Fleet, series: Series, exposure: Exposure) -> tuple[Floats, Floats]:
    """Door cycles between which each life ended; infinite above where it had not failed."""
    parts = fleet.fitments
    window_end = exposure.end_cycles[parts.door]
    failed = parts.end == End.FAILED
    lower = np.where(parts.end == End.FITTED, window_end, parts.removed_at_cycles)
    upper = lower.copy()
    open_end = np.flatnonzero((parts.end != End.FITTED) & np.isnan(lower))
    dated = open_end[~np.isnan(parts.removed_day[open_end])]
    around = bracket_cycles(series, parts.door[dated], parts.removed_day[dated])
    lower[dated] = np.maximum(
        np.nan_to_num(around.lower, nan=0.0), np.nan_to_num(parts.fitted_at_cycles[dated])
    )
    upper[dated] = np.where(np.isnan(around.upper), window_end[dated], around.upper)
    upper = np.maximum(upper, lower)
    return lower, np.where(failed, upper, np.where(np.isnan(lower), np.nan, np.inf))


def family_prior(code: str, kind: str) -> FamilyPrior:
    """What is usual for the component's family, else the general prior."""
    return FAMILY_PRIORS[_PRIORS_BY_CODE.get(code) or _PRIORS_BY_KIND.get(kind, "default")]


def has_family_prior(code: str, kind: str) -> bool:
    """Whether more than the general prior is known of the component's family."""
    return family_prior(code, kind) is not FAMILY_PRIORS["default"]


def assess_component(
    code: str, kind: str, component_id: int, lives: Lifetimes, confidence: float
) -> ComponentLifeFound:
    """Maximum likelihood with its check, and the posterior, each where it can be given."""
    fit, fit_p, posterior, reasons = None, None, None, []
    try:
        fit = fit_weibull(lives, confidence)
        fit_p = check_fit(lives, fit.shape, fit.scale_cycles).p
    except NotEstimableError as problem:
        reasons.append(str(problem))
    try:
        posterior = weibull_posterior(lives, family_prior(code, kind))
    except NotEstimableError as problem:
        reasons.append(str(problem))
    reason = " ".join(dict.fromkeys(reasons))
    return ComponentLifeFound(component_id, code, lives, fit, fit_p, posterior, reason)


def assess_components(
    fleet: Fleet, rows: LifeRows, confidence: float = 0.9
) -> tuple[ComponentLifeFound, ...]:
    """Every component of which a part is or was fitted, by code."""
    known = fleet.components
    on_record: Flags = np.isin(known.ids, fleet.fitments.component_id)
    return tuple(
        _with_shocks_apart(
            fleet,
            rows,
            known.kinds[k],
            assess_component(
                known.codes[k],
                known.kinds[k],
                int(known.ids[k]),
                rows.of_component(int(known.ids[k])),
                confidence,
            ),
        )
        for k in np.flatnonzero(on_record).tolist()
    )


def _with_shocks_apart(
    fleet: Fleet, rows: LifeRows, kind: str, found: ComponentLifeFound
) -> ComponentLifeFound:
    """The same, with a posterior that takes batches for suspended; untouched without a batch."""
    shocks = find_shocks(fleet, found.component_id)
    if not shocks or found.posterior is None:
        return found
    hi = np.where(shocks.ended[rows.part], np.inf, rows.hi_cycles)
    lives = replace(rows, hi_cycles=hi).of_component(found.component_id)
    apart = weibull_posterior(lives, family_prior(found.code, kind))
    return replace(found, shocks=shocks, apart=apart)
