"""What is learned from the whole fleet and reused for single doors."""

from __future__ import annotations

from dataclasses import asdict, dataclass, field, replace
from typing import Any

import numpy as np

from analytics.assessment.learning import class_priors, learn_calendar, weekday_class
from analytics.datasets.columns import Floats, Ints
from analytics.datasets.doors import DoorRows
from analytics.datasets.fleet import UsageRecord
from analytics.kernel.calibration import UNCALIBRATED, Calibration
from analytics.kernel.class_priors import (
    ClassPriors,
    DoorPriors,
    door_log_rates,
)
from analytics.kernel.effective_days import Calendar
from analytics.kernel.rate_filter import FilterSettings, Rate
from analytics.kernel.rate_history import USAGE_FILTER

VERSION = 1
NO_SEASON = [1.0] * 12
_NOTHING_KNOWN = (0.0, 1.0, 0)

ClassPrior = tuple[float, float, int]


@dataclass(frozen=True)
class FleetParameters:
    """Weekdays, months and usage by class, the filter's settings and the calibration.

    Classes are kept by name, so that they fit any later selection of doors. Each class prior is
    log cycles per effective day, its variance, and the doors behind it. A route kind without
    month factors has no season: its record is too short or too thin to show one.
    """

    weekday_weights: dict[str, list[float]]
    route_priors: dict[str, ClassPrior]
    depot_priors: dict[str, ClassPrior]
    fleet_prior: ClassPrior
    settings: FilterSettings
    calibration: Calibration
    month_factors: dict[str, list[float]] = field(default_factory=dict)

    def calendar(self, doors: DoorRows) -> Calendar:
        """Weekday patterns, seasons and lay-ups of the doors."""
        kinds = (*doors.route_kinds, "")
        weights = [self.weekday_weights.get(kind, self.weekday_weights[""]) for kind in kinds]
        months = [self.month_factors.get(kind, NO_SEASON) for kind in kinds]
        return Calendar(np.array(weights), weekday_class(doors), doors.lay_ups, np.array(months))

    def priors(self, doors: DoorRows) -> DoorPriors:
        """What is usual for each door's route, depot or fleet."""
        routes = [self.route_priors.get(kind, _NOTHING_KNOWN) for kind in doors.route_kinds]
        depots = [self.depot_priors.get(code, _NOTHING_KNOWN) for code in doors.depots.codes[:-1]]
        classes = ClassPriors(
            *_rate_and_doors(routes), *_rate_and_doors(depots), *_rate_and_doors([self.fleet_prior])
        )
        return classes.for_doors(doors.route, doors.depot)

    def with_calibration(self, calibration: Calibration) -> FleetParameters:
        """The same, with the errors of the fleet's own past forecasts."""
        return replace(self, calibration=calibration)

    def to_json(self) -> dict[str, Any]:
        """As a run keeps them."""
        kept = asdict(self)
        kept["calibration"]["quantile"] = self.calibration.quantile.tolist()
        # JSON knows no infinity; no limit is written as nothing.
        limit = self.settings.clip_sd
        kept["settings"]["clip_sd"] = limit if np.isfinite(limit) else None
        return {"version": VERSION, **kept}

    @classmethod
    def from_json(cls, kept: dict[str, Any]) -> FleetParameters:
        """From what a run kept; ValueError for what another version wrote, or for nothing."""
        if kept.get("version") != VERSION:
            raise ValueError(
                f"Parameters must be of version {VERSION}; these are of {kept.get('version')!r}."
            )
        limit = kept["settings"]["clip_sd"]
        quantile = np.array(kept["calibration"]["quantile"])
        return cls(
            weekday_weights=kept["weekday_weights"],
            route_priors={name: _prior(each) for name, each in kept["route_priors"].items()},
            depot_priors={name: _prior(each) for name, each in kept["depot_priors"].items()},
            fleet_prior=_prior(kept["fleet_prior"]),
            settings=FilterSettings(
                **{**kept["settings"], "clip_sd": np.inf if limit is None else limit}
            ),
            calibration=Calibration(**{**kept["calibration"], "quantile": quantile}),
            # Runs of before months were learned know none.
            month_factors=kept.get("month_factors", {}),
        )


def kept_parameters(kept: dict[str, Any]) -> FleetParameters | None:
    """From what a run kept; None where it kept nothing or what another version wrote."""
    return FleetParameters.from_json(kept) if kept.get("version") == VERSION else None


def estimate_parameters(fleet: UsageRecord) -> FleetParameters:
    """Learn what is usual for each class; the calibration follows once forecasts can be tested."""
    doors = fleet.doors
    learned = learn_calendar(fleet)
    weights, seasons = learned.weekday_weights, learned.seasons
    calendar = Calendar(weights, weekday_class(doors), doors.lay_ups, seasons.factor)
    rates = door_log_rates(fleet.readings.kernel, fleet.kernel_doors, fleet.counters, calendar)
    found = class_priors(doors, rates, np.arange(len(doors)))
    kinds = (*doors.route_kinds, "")
    fleet_rate, fleet_variance = found.fleet.log_rate[0], found.fleet.variance[0]
    return FleetParameters(
        weekday_weights=dict(zip(kinds, weights.tolist(), strict=True)),
        route_priors=_by_name(doors.route_kinds, found.route_kind, found.route_kind_doors),
        depot_priors=_by_name(doors.depots.codes[:-1], found.depot, found.depot_doors),
        fleet_prior=(float(fleet_rate), float(fleet_variance), int(found.fleet_doors[0])),
        settings=replace(USAGE_FILTER, dispersion=learned.dispersion),
        calibration=UNCALIBRATED,
        month_factors={
            kind: seasons.factor[k].tolist() for k, kind in enumerate(kinds) if seasons.learned[k]
        },
    )


def _by_name(names: tuple[str, ...], rate: Rate, doors: Ints) -> dict[str, ClassPrior]:
    columns = (rate.log_rate.tolist(), rate.variance.tolist(), doors.tolist())
    rows = zip(names, *columns, strict=True)
    return {name: (middle, variance, behind) for name, middle, variance, behind in rows if behind}


def _rate_and_doors(rows: list[ClassPrior]) -> tuple[Rate, Ints]:
    table: Floats = np.array(rows, dtype=float).reshape(-1, 3)
    return Rate(table[:, 0], table[:, 1]), table[:, 2].astype(np.int64)


def _prior(row: list[float]) -> ClassPrior:
    log_rate, variance, doors = row
    return float(log_rate), float(variance), int(doors)
