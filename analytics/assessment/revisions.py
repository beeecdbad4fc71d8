"""Revisions of a part told apart: a new one may last longer or shorter than the one before it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from analytics.assessment.lives import (
    ComponentLifeFound,
    LifeRows,
    RevisedLives,
    family_prior,
)
from analytics.datasets.catalogue import Parts
from analytics.datasets.columns import Ints
from analytics.datasets.fleet import Fleet
from analytics.kernel.lifetimes import Lifetimes, NotEstimableError
from analytics.kernel.posterior import (
    FamilyPrior,
    WeibullPosterior,
    prior_of_revision,
    weibull_posterior,
)


def told_apart(
    fleet: Fleet, parts: Parts, rows: LifeRows, lives: tuple[ComponentLifeFound, ...]
) -> tuple[ComponentLifeFound, ...]:
    """The same lives, with the revisions of each component that has had more than one."""
    return tuple(_with_revisions(fleet, parts, rows, life) for life in lives)


def _with_revisions(
    fleet: Fleet, parts: Parts, rows: LifeRows, life: ComponentLifeFound
) -> ComponentLifeFound:
    own = rows.component_id == life.component_id
    of_part = _revisions_fitted(fleet, parts, life.component_id)
    if life.of_wear is None or len(set(of_part.values())) < 2:
        return life
    revision = np.array([of_part.get(k, 0) for k in fleet.fitments.part_id[rows.part].tolist()])
    ended = life.shocks.ended[rows.part] if life.shocks else np.zeros(len(own), bool)
    hi = np.where(ended, np.inf, rows.hi_cycles)
    kind = fleet.components.kinds[fleet.components.codes.index(life.code)]
    chosen = replace(rows, hi_cycles=hi)
    posteriors = _one_after_the_other(
        [
            chosen.among(own & (revision == each))
            for each in range(max(of_part.values(), default=0) + 1)
        ],
        family_prior(life.code, kind),
    )
    return replace(life, revised=RevisedLives(posteriors, of_part)) if posteriors else life


def _revisions_fitted(fleet: Fleet, parts: Parts, component_id: int) -> dict[int, int]:
    """Revision by part id, of the parts of a component that are or were fitted."""
    of_component = fleet.fitments.component_id == component_id
    fitted: Ints = np.unique(fleet.fitments.part_id[of_component])
    row = parts.index_of(fitted)
    known = row >= 0
    return dict(zip(fitted[known].tolist(), parts.revision[row[known]].tolist(), strict=True))


def _one_after_the_other(
    lives: list[Lifetimes], prior: FamilyPrior
) -> tuple[WeibullPosterior, ...]:
    """Each revision's life, expected to be like the one before; none if the first has no lives.

    A revision of which nothing was seen yet is taken to be like the one before it.
    """
    found: list[WeibullPosterior] = []
    for each in lives:
        try:
            found.append(weibull_posterior(each, prior))
        except NotEstimableError:
            if not found:
                return ()
            found.append(found[-1])
        prior = prior_of_revision(found[-1])
    return tuple(found)
