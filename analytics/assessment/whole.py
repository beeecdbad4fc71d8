"""Everything that is computed of a fleet, in the order in which one thing needs another."""

from __future__ import annotations

from dataclasses import dataclass, replace

from analytics.assessment.announced import Foreseen, foresee_demand
from analytics.assessment.demand import DemandFactors
from analytics.assessment.due import DueFound, assess_due
from analytics.assessment.exposure import Exposure, assess_exposure
from analytics.assessment.installed_base import positions_in_use
from analytics.assessment.lives import ComponentLifeFound, assess_components, assess_lives
from analytics.assessment.outlook import Outlook, assess_outlooks
from analytics.assessment.revisions import told_apart
from analytics.assessment.usage import UsageFound
from analytics.datasets.fleet import Fleet, PartsRecord

HORIZON_DAYS = 90


@dataclass(frozen=True)
class DoorsFound:
    """What is computed door by door."""

    fleet: Fleet
    usage: UsageFound
    exposure: Exposure
    due: DueFound

    def without_judgement(self) -> DoorsFound:
        """The same for what rests on all doors, without what was said of each reading."""
        return replace(self, usage=self.usage.without_judgement())


def assess_doors(fleet: Fleet, usage: UsageFound) -> DoorsFound:
    """Exposure and due dates of the doors whose usage is known."""
    exposure = assess_exposure(fleet, usage.series)
    return DoorsFound(fleet, usage, exposure, assess_due(fleet, usage, exposure))


def assess_parts(
    fleet: Fleet,
    record: PartsRecord,
    usage: UsageFound,
    exposure: Exposure,
    *,
    lives: tuple[ComponentLifeFound, ...],
    factors: DemandFactors,
    horizon_days: float,
) -> list[Outlook]:
    """The outlook of every part at every depot."""
    base = foreseen_base(fleet, record, usage, exposure, lives=lives, factors=factors)
    return assess_outlooks(fleet.doors, record, foresee_demand(base), horizon_days)


def foreseen_base(
    fleet: Fleet,
    record: PartsRecord,
    usage: UsageFound,
    exposure: Exposure,
    *,
    lives: tuple[ComponentLifeFound, ...],
    factors: DemandFactors,
) -> Foreseen:
    """What the forecast of every part rests on."""
    return Foreseen(
        fleet,
        record,
        positions_in_use(fleet, record, usage, exposure.end_cycles),
        usage.usage.cycles_per_day,
        lives_by_revision(fleet, record, usage, exposure, lives),
        factors,
    )


def lives_by_revision(
    fleet: Fleet,
    record: PartsRecord,
    usage: UsageFound,
    exposure: Exposure,
    lives: tuple[ComponentLifeFound, ...],
) -> tuple[ComponentLifeFound, ...]:
    """The same lives, revisions told apart where the catalogue knows more than one."""
    if not record.parts.revision.any():
        return lives
    return told_apart(fleet, record.parts, assess_lives(fleet, usage.series, exposure), lives)


def lives_of(
    fleet: Fleet, usage: UsageFound, exposure: Exposure, confidence: float = 0.9
) -> tuple[ComponentLifeFound, ...]:
    """The life of every component on record."""
    rows = assess_lives(fleet, usage.series, exposure)
    return assess_components(fleet, rows, confidence)
