"""The derived rows of one component's life, as the kernel and the charts take them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from analytics.charts.survival import AgeBands, Curve, Weibull
from analytics.kernel.posterior import FamilyPrior, WeibullDraws, WeibullPosterior
from analytics.models import ComponentLife, LifeEvidence
from fleetdoors.models import Component

LEVELS = (0.05, 0.5, 0.95)


@dataclass(frozen=True)
class Spread:
    """A middle and the range that holds it 9 times in 10, in cycles."""

    lower: float
    middle: float
    upper: float


@dataclass(frozen=True)
class ComponentEvidence:
    """A component, its life in figures, and what these rest on."""

    component: Component
    life: ComponentLife
    figures: dict[str, Any]

    @property
    def is_mostly_prior(self) -> bool:
        """Whether the life rests on what is usual more than on this fleet."""
        return self.life.evidence != "data"

    @property
    def is_estimated(self) -> bool:
        """Whether the lives carry a curve: two failures or more, not all at one age."""
        return self.is_known and self.life.shape is not None

    @property
    def is_known(self) -> bool:
        """Whether any likely life could be given at all."""
        return bool(self.figures.get("draws"))

    def draws(self) -> WeibullDraws:
        """Equally likely lives, spread evenly by shape."""
        kept = self.figures["draws"]
        return WeibullDraws(np.array(kept["shape"]), np.array(kept["scale_cycles"]))

    def forecast_draws(self) -> WeibullDraws:
        """The few lives that the forecasts of the parts were made with."""
        kept = self.figures["forecast_draws"]
        return WeibullDraws(np.array(kept["shape"]), np.array(kept["scale_cycles"]))

    def posterior(self) -> WeibullPosterior:
        """The likely lives as a grid of one scale per shape, each as likely as the others."""
        draws = self.draws()
        count = len(draws.shape)
        return WeibullPosterior(
            shape=draws.shape,
            scale_cycles=draws.scale_cycles[:, None],
            probability=np.full((count, 1), 1 / count),
            lives=float(self.life.lives),
            failures=float(self.life.failures),
            evidence=self.life.evidence,
            prior=FamilyPrior(),
        )

    def age_by_which(self, failed: float) -> Spread:
        """The age by which a share of new parts has failed."""
        draws = self.draws()
        ages = draws.scale_cycles * (-np.log1p(-failed)) ** (1 / draws.shape)
        lower, middle, upper = np.quantile(ages, LEVELS).tolist()
        return Spread(lower, middle, upper)

    def weibull(self) -> Weibull | None:
        """The life that is drawn, by maximum likelihood; None where it cannot be estimated."""
        life = self.life
        if life.shape is None or life.scale_cycles is None:
            return None
        return Weibull(life.shape, life.scale_cycles)

    def curve(self) -> Curve | None:
        """What was seen, None without a failure."""
        kept = self.figures.get("curve")
        if not kept:
            return None
        return Curve(
            *(np.array(kept[name]) for name in ("at_cycles", "survival", "lower", "upper"))
        )

    def bands(self) -> AgeBands | None:
        """Failures and cycles by age, None without a failure."""
        kept = self.figures.get("bands")
        if not kept:
            return None
        return AgeBands(
            *(np.array(kept[name]) for name in ("edges_cycles", "observed", "exposure_cycles"))
        )


def fetch_evidence(component: Component) -> ComponentEvidence | None:
    """The rows of the shown run, None where no part of the kind was ever fitted; queries twice."""
    life = ComponentLife.objects.current().filter(component=component).first()
    kept = LifeEvidence.objects.current().filter(component=component).first()
    if life is None or kept is None:
        return None
    return ComponentEvidence(component, life, kept.figures)
